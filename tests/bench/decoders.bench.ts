/**
 * Decoders: how fast against the plain way on the same bytes, what damaged bytes are read as, how many unknown meters are recognised
 * and taught, how well the session clock dates. Ratios are of one run on one machine; seeds are fresh and printed.
 */
import { type Asker, type Decoder, type DecodeSink, FrameDecoder, LAYOUTS, RegisterAsker, ScpiAsker, TextLineDecoder } from '../../drivers/decoders/index.ts';
import { crc16Modbus } from '../../drivers/decoders/checksum.ts';
import { identify } from '../../drivers/identify/index.ts';
import { randomFrom } from '../../drivers/simulated/random.ts';
import { findFrames } from '../../drivers/teach/index.ts';
import { LineReader } from '../../drivers/transports/line-reader.ts';
import { SampleClock } from '../../server/session/clock.ts';
import { jitteryLink, LEAST_DELAY, type LinkMake } from '../support/jittery-link.ts';
import { talkingMeters } from '../support/talking-meters.ts';
import { teachByAsking } from '../support/teach-by-asking.ts';
import { uartPort } from '../support/uart.ts';
import { displayStates, FRAME_KINDS, unknownMeter } from '../support/unknown-meters.ts';

const CHUNK = 4096;

/** Processor time in s, the best of five: what else the machine does at the time counts less than with the clock on the wall. */
function timeOf(run: () => void): number {
  run();
  const times = [0, 0, 0, 0, 0].map(() => {
    const start = process.cpuUsage();
    run();
    return process.cpuUsage(start).user;
  });
  return Math.min(...times) / 1e6;
}

/** A SCPI meter's answers to the questions for a reading come from the stream, all others are given here. */
class AnsweringScpi implements Decoder {
  readonly #asker: Asker = new ScpiAsker({ function: 'VOLT:DC', range: null, query: 'READ?', every: 1, patience: 1 });
  #now = 0;
  #isAsked = false;

  decode(bytes: Uint8Array, sink: DecodeSink): void {
    for (let from = 0; from < bytes.length;) {
      if (!this.#isAsked) this.#askForReading(sink);
      const end = bytes.indexOf(0x0a, from);
      const to = end < 0 ? bytes.length : end + 1;
      this.#asker.decode(bytes.subarray(from, to), sink);
      this.#isAsked = end < 0;
      from = to;
    }
  }

  #askForReading(sink: DecodeSink): void {
    for (;;) {
      this.#now = Math.max(this.#now, this.#asker.askAgainAt());
      const question = Buffer.from(this.#asker.ask(this.#now) ?? []).toString('latin1');
      if (question === 'READ?\n') return;
      this.#asker.decode(Buffer.from(question === '*IDN?\n' ? 'Maker,Model,1,1.0\n' : '0,"No error"\n'), sink);
    }
  }
}

function feed(decoder: Decoder, bytes: Uint8Array): number {
  let readings = 0;
  const sink = { reading: () => void readings++, skipped: () => undefined };
  for (let at = 0; at < bytes.length; at += CHUNK) decoder.decode(bytes.subarray(at, at + CHUNK), sink);
  return readings;
}

/** A line splitter, a regular expression and Number(), as one would write it in five minutes. */
function plainWay(bytes: Uint8Array): number {
  let rest = '';
  let readings = 0;
  for (let at = 0; at < bytes.length; at += CHUNK) {
    const lines = (rest + Buffer.from(bytes.buffer, bytes.byteOffset + at, Math.min(CHUNK, bytes.length - at)).toString('latin1')).split('\n');
    rest = lines.pop() as string;
    for (const line of lines) {
      const match = /([+-]?\s*\d+(?:\.\d+)?(?:[eE][+-]?\d+)?)\s*([a-zA-Z]*)/.exec(line);
      if (match !== null && Number.isFinite(Number((match[1] as string).replace(/\s/g, '')))) readings++;
    }
  }
  return readings;
}

function registerAnswer(raw: number): Uint8Array {
  const body = Uint8Array.of(1, 3, 2, raw >> 8, raw & 255);
  const crc = crc16Modbus(body);
  return Uint8Array.of(...body, crc & 255, crc >> 8);
}

const newTextReader = (): LineReader => new LineReader(new TextLineDecoder(), { newline: 'lf', startsAtLine: true });
const newRegisterAsker = (): RegisterAsker => new RegisterAsker({ slave: 1, function: 3, address: 0, type: 'i16', wordOrder: 'high-first', decimals: 2, words: ['V'] }, 1);

function streams(seed: number): Record<string, { newDecoder: () => Decoder; frames: Uint8Array[] }> {
  const random = randomFrom(seed);
  const counts = Array.from({ length: 50_000 }, () => Math.floor(1000 + 5000 * random()));
  const meters = talkingMeters(seed);
  const framesOf = (name: string): Uint8Array[] => counts.map((_, i) => { const { frames } = meters.find((meter) => meter.name === name) as (typeof meters)[0]; return frames[i % frames.length] as Uint8Array; });
  return {
    'text, one unit': { newDecoder: newTextReader, frames: counts.map((count) => Buffer.from(`${(count / 100).toFixed(2)} V DC\r\n`)) },
    'text, numbered fields': { newDecoder: newTextReader, frames: counts.map((count, i) => Buffer.from(`${i},${(count / 100).toFixed(2)},V,AUTO\r\n`)) },
    'segment frames': { newDecoder: () => new FrameDecoder(LAYOUTS[0] as (typeof LAYOUTS)[0]), frames: framesOf('segment frames') },
    'character frames': { newDecoder: () => new FrameDecoder(LAYOUTS[1] as (typeof LAYOUTS)[0]), frames: framesOf('character frames') },
    'SCPI': { newDecoder: () => new AnsweringScpi(), frames: counts.map((count) => Buffer.from(`+${(count / 100).toExponential(8)}\n`)) },
    'registers': { newDecoder: newRegisterAsker, frames: counts.map(registerAnswer) },
  };
}

function ratio(run: () => void, own: number): number {
  return Number((timeOf(run) / own).toPrecision(2));
}

function throughput(seed: number): object {
  const rows: Record<string, object> = {};
  const text = Uint8Array.from(Buffer.concat(streams(seed)['text, one unit']?.frames ?? []));
  for (const [name, { newDecoder, frames }] of Object.entries(streams(seed))) {
    const bytes = Uint8Array.from(Buffer.concat(frames));
    if (feed(newDecoder(), bytes) !== frames.length) throw new Error(`${name}: not every frame is read`);
    const own = timeOf(() => feed(newDecoder(), bytes));
    // The plain way reads no binary frames: there the ratio is that of the time for the same bytes, and of the time for as many readings as text.
    rows[name] = {
      readings_per_s: Math.round(frames.length / own), read_by_the_plain_way: plainWay(bytes) / frames.length,
      times_the_plain_way: ratio(() => plainWay(bytes), own), times_the_plain_way_with_text: ratio(() => plainWay(text), own),
    };
  }
  return rows;
}

/** One byte of each frame changed, dropped or doubled; a value that was not sent is false. */
function damage(seed: number, framesEach: number): object {
  const random = randomFrom(seed);
  const rows: Record<string, object> = {};
  for (const [name, { newDecoder, frames }] of Object.entries(streams(seed + 1))) {
    const decoder = newDecoder();
    let right = 0;
    let wrong = 0;
    let none = 0;
    for (let i = 0; i < framesEach; i++) {
      const frame = frames[i % frames.length] as Uint8Array;
      let value = NaN;
      newDecoderFeed(newDecoder, frame, (each) => { value = each; });
      const at = Math.floor(random() * frame.length);
      const kind = random();
      const bytes = kind < 0.6 ? Uint8Array.from(frame, (byte, j) => (j === at ? byte ^ (1 << Math.floor(random() * 8)) : byte))
        : kind < 0.8 ? Uint8Array.from([...frame.slice(0, at), ...frame.slice(at + 1)]) : Uint8Array.from([...frame.slice(0, at + 1), ...frame.slice(at)]);
      const got: number[] = [];
      decoder.decode(bytes, { reading: (reading) => void got.push(reading.value), skipped: () => undefined });
      if (got.length === 0) none++;
      else if (got.every((each) => Object.is(each, value))) right++;
      else wrong++;
    }
    rows[name] = { frames: framesEach, unread: none, read_right: right, false_value_share: Number((wrong / framesEach).toPrecision(3)) };
  }
  return rows;
}

const single = new WeakMap<object, Decoder>();
function newDecoderFeed(newDecoder: () => Decoder, frame: Uint8Array, take: (value: number) => void): void {
  const decoder = single.get(newDecoder) ?? newDecoder();
  single.set(newDecoder, decoder);
  decoder.decode(frame, { reading: (reading) => take(reading.value), skipped: () => undefined });
}

async function recognition(seed: number, rounds: number): Promise<object> {
  const clock = (): number => performance.now() / 1000;
  let right = 0;
  let all = 0;
  const missed: string[] = [];
  for (let round = 0; round < rounds; round++) {
    const meters = talkingMeters(seed + round);
    await Promise.all(meters.map(async (meter, i) => {
      const port = uartPort(meter.frames, meter.interval, meter.framing, 0.03 * i);
      const found = await identify(port, { layouts: LAYOUTS }, clock);
      await port.close();
      const best = found.kind === 'recognised' ? found.guesses[0] : undefined;
      all++;
      if (best !== undefined && best.baud === meter.framing.baud && best.readings.every(({ value }) => meter.values.includes(value))) right++;
      else missed.push(`${meter.name} at ${meter.framing.baud}`);
    }));
  }
  return { meters: all, recognised: right, missed };
}

function teaching(seed: number, rounds: number): object {
  let whole = 0;
  let partly = 0;
  let untaught = 0;
  let falseValues = 0;
  const needed: number[] = [];
  for (const kind of FRAME_KINDS) {
    for (let round = 0; round < rounds; round++) {
      const meter = unknownMeter(kind, seed + round);
      const states = displayStates(seed + round + 7, 40);
      const captured = states.map((state) => ({ bytes: meter.frame(state), shown: meter.shown(state) }));
      const found = findFrames(captured.map(({ bytes }, i) => ({ arrival: 0.3 * i, bytes })));
      const shownOf = (frame: Uint8Array): string => captured.find(({ bytes }) => Buffer.compare(bytes, frame) === 0)?.shown as string;
      const { taught, examples } = found === null ? { taught: null, examples: 0 } : teachByAsking(found, shownOf);
      if (taught?.kind !== 'taught') {
        untaught++;
        continue;
      }
      needed.push(examples);
      let read = 0;
      const decoder = new FrameDecoder(taught.layout);
      const held = displayStates(seed + round + 999, 200);
      for (const state of held) {
        decoder.decode(meter.frame(state), {
          reading: ({ value }) => {
            read++;
            const expected = meter.value(state);
            if (!(Number.isNaN(expected) ? Number.isNaN(value) : Math.abs(value - expected) <= 1e-9 * Math.abs(expected))) falseValues++;
          },
          skipped: () => undefined,
        });
      }
      if (read === held.length) whole++;
      else partly++;
    }
  }
  needed.sort((a, b) => a - b);
  return {
    meters: FRAME_KINDS.length * rounds, every_further_frame_read: whole, some_marks_never_captured: partly, not_taught_in_16_examples: untaught, false_values: falseValues,
    examples: { least: needed[0], median: needed[needed.length >> 1], most: needed.at(-1) },
  };
}

function dating(seed: number): object {
  const rows: Record<string, object> = {};
  for (const kind of ['direct', 'latency-timer', 'network', 'stalls', 'stalls-apart'] as LinkMake['kind'][]) {
    for (const interval of [0.5, 0.1, 0.02]) {
      const clock = new SampleClock({ interval: null });
      const errors: number[] = [];
      const arrivalErrors: number[] = [];
      for (const { arrival, truth } of jitteryLink({ kind, interval, slowPpm: 100, count: Math.min(10_000, 600 / interval), seed })) {
        const out = new Float64Array(truth.length);
        clock.date(arrival, truth.length, out);
        truth.forEach((time, i) => {
          errors.push(Math.abs((out[i] as number) - LEAST_DELAY[kind] - time) / interval);
          arrivalErrors.push(Math.abs(arrival - LEAST_DELAY[kind] - time) / interval);
        });
      }
      const median = (values: number[]): number => values.sort((a, b) => a - b)[values.length >> 1] as number;
      const own = median(errors);
      rows[`${kind}, ${interval} s`] = { median_error_intervals: Number(own.toPrecision(2)), times_better_than_arrival: Math.round(median(arrivalErrors) / own) };
    }
  }
  return rows;
}

export default {
  name: 'decoders',
  run: async (): Promise<object> => {
    const seed = Math.floor(Math.random() * 2 ** 30);
    return {
      seed, throughput: throughput(seed), damaged_frames: damage(seed, Number(process.env['FUZZ_FRAMES'] ?? 2_000_000)),
      recognition: await recognition(seed, 4), teaching: teaching(seed, 4), dating: dating(seed),
    };
  },
};
