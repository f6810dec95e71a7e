/** Teaching: what an attached meter sends is captured for a while, and turned into a layout by what the user says of it. */
import {
  findFrames, FrameDecoder, markBytes, TextLineDecoder, teachText, textOptions, withFrames,
  type ByteMeter, type CapturedChunk, type FrameLayout, type FramesFound, type Reading, type Taught, type TextLayout,
} from '../../drivers/index.ts';
import { RequestRefused } from '../live/index.ts';
import type { Capture, Preview, TaughtAnswer, TeachRequest } from '../live/protocol.ts';
import type { LayoutShelf } from './layout-shelf.ts';
import { startTeaching } from './start-teaching.ts';
import { shownReading } from './shown-reading.ts';

export interface TeachParts {
  /** @throws {RequestRefused} when there is no such meter, or none with bytes */
  readonly meter: (index: number) => ByteMeter;
  readonly layouts: LayoutShelf;
  /** Of the meters that are read now. */
  readonly addresses: () => readonly string[];
  readonly reread: (meter: number, address: string) => Promise<unknown>;
}

interface Watched {
  readonly meter: ByteMeter;
  readonly stop: () => void;
  chunks: CapturedChunk[];
  held: number;
  bytes: number;
  timer: NodeJS.Timeout;
}

/** Ten minutes of a slow meter; the oldest are forgotten first. */
const MOST_BYTES = 32 * 1024;
const MOST_CHUNKS = 4000;
/** What is looked through for frames each time. */
const FRAME_BYTES = 8 * 1024;
/** Nobody has asked for so long: nobody looks any more, ms. */
const IDLE_MS = 30_000;
const SHOWN = 12;
const MOST_PREVIEWED = 40;
const PRINTABLE_SHARE = 0.97;

export class TeachDesk {
  readonly #parts: TeachParts;
  readonly #watched = new Map<number, Watched>();

  constructor(parts: TeachParts) {
    this.#parts = parts;
  }

  /** @throws {RequestRefused} */
  carryOut(request: TeachRequest): unknown {
    const { layouts } = this.#parts;
    switch (request.type) {
      case 'read-capture': return captureOf(this.#watch(request.meter));
      case 'teach-lines': return this.#teachLines(request);
      case 'teach-frames': return this.#teachFrames(request);
      case 'list-layouts': return layouts.list();
      case 'read-layout': return layouts.read(request.name);
      case 'save-layout': return layouts.save(request.layout).then(({ name }) => ({ name }));
      case 'remove-layout': return layouts.remove(request.name, this.#parts.addresses());
      case 'reread-meter': return this.#parts.reread(request.meter, request.address);
    }
  }

  close(): void {
    for (const index of [...this.#watched.keys()]) this.#forget(index);
  }

  #watch(index: number): Watched {
    const meter = this.#parts.meter(index);
    let watched = this.#watched.get(index);
    if (watched?.meter !== meter) {
      this.#forget(index);
      const begun: Watched = { meter, chunks: [], held: 0, bytes: 0, stop: meter.tap((bytes, arrival) => keep(begun, bytes, arrival)), timer: setTimeout(() => undefined, 0) };
      watched = begun;
      this.#watched.set(index, watched);
    }
    clearTimeout(watched.timer);
    watched.timer = setTimeout(() => this.#forget(index), IDLE_MS).unref();
    return watched;
  }

  #forget(index: number): void {
    const watched = this.#watched.get(index);
    if (watched === undefined) return;
    clearTimeout(watched.timer);
    watched.stop();
    this.#watched.delete(index);
  }

  #teachLines({ meter, name, examples, chosen }: Extract<TeachRequest, { type: 'teach-lines' }>): TaughtAnswer {
    const { lines, newline } = linesOf(this.#watch(meter).chunks);
    const all = [...new Set([...examples.map(({ line }) => line), ...lines])];
    if (chosen !== null) return this.#textTaught(name, chosen, all);
    const taught = teachText(all, examples);
    switch (taught.kind) {
      case 'failed': return { kind: 'failed', why: taught.why };
      case 'ambiguous': {
        const { askLine, ways } = taught;
        const readings = askLine === null ? [] : ways.map((way) => new TextLineDecoder(way).decodeLine(askLine));
        const couldBe = readings.flatMap((decoded) => (decoded.kind === 'reading' ? [String(Number(decoded.reading.value.toPrecision(12)))] : []));
        return { kind: 'ambiguous', ways: ways.length, ask: askLine, couldBe: [...new Set(couldBe)] };
      }
      case 'taught': return this.#textTaught(name, { ...taught.options, newline }, all);
    }
  }

  #textTaught(name: string, choice: Omit<TextLayout, 'layout' | 'name' | 'origin' | 'description'>, lines: readonly string[]): TaughtAnswer {
    const layout: TextLayout = { layout: 'text/1', name, origin: originNow(), description: '', ...choice };
    let decoder: TextLineDecoder;
    try {
      decoder = new TextLineDecoder(textOptions(layout));
    } catch (error) {
      if (error instanceof RangeError) return { kind: 'failed', why: error.message };
      throw error;
    }
    const readings = lines.map((line) => {
      const decoded = decoder.decodeLine(line);
      return decoded.kind === 'reading' ? decoded.reading : null;
    });
    const undetermined = readings.some((reading) => reading?.quantity === 'unknown') ? ['The unit: point at it in a line, or type it behind the value.'] : [];
    return { kind: 'taught', layout, undetermined, preview: previewOf(lines, readings) };
  }

  async #teachFrames({ meter, name, examples, leavesUnknown }: Extract<TeachRequest, { type: 'teach-frames' }>): Promise<TaughtAnswer> {
    const found = framesOf(this.#watch(meter).chunks);
    if (found === null) throw new RequestRefused('NO_FRAMES', 'No frames are captured yet: see that the meter is on, then wait a moment.');
    const typed = examples.map(({ frame, shown }) => ({ frame: bytesOf(frame), shown }));
    const taught: Taught = await startTeaching({ found: withFrames(found, typed.map(({ frame }) => frame)), examples: typed, name, origin: originNow(), leavesUnknown });
    switch (taught.kind) {
      case 'failed': return taught;
      case 'ambiguous': return { kind: 'ambiguous', ways: taught.ways, ask: hexOf(taught.ask.frame), couldBe: taught.ask.couldBe };
      case 'taught': {
        const frames = [...typed.map(({ frame }) => frame), ...found.frames.slice(-SHOWN).map(({ bytes }) => bytes)];
        return { kind: 'taught', layout: taught.layout, undetermined: taught.undetermined, preview: previewOf(frames.map(hexOf), frames.map((frame) => readFrame(taught.layout, frame))) };
      }
    }
  }
}

function keep(watched: Watched, bytes: Uint8Array, arrival: number): void {
  watched.chunks.push({ bytes: bytes.slice(), arrival });
  watched.held += bytes.length;
  watched.bytes += bytes.length;
  while (watched.chunks.length > 1 && (watched.held > MOST_BYTES || watched.chunks.length > MOST_CHUNKS)) watched.held -= watched.chunks.shift()!.bytes.length;
}

function captureOf({ chunks, bytes }: Watched): Capture {
  const none: Capture = { kind: 'nothing', bytes, lines: [], frames: [], fixed: [], marks: [], count: 0 };
  if (chunks.length === 0) return none;
  const { lines, isText } = linesOf(chunks);
  if (isText) return { ...none, kind: 'text', lines: lines.slice(-SHOWN), count: lines.length };
  const found = framesOf(chunks);
  if (found === null) return { ...none, kind: 'noise' };
  return { ...none, kind: 'frames', frames: found.frames.slice(-SHOWN).map(({ bytes: frame }) => hexOf(frame)), fixed: found.fixed.map(({ mask }) => mask === 0xff), marks: markBytes(found), count: found.frames.length };
}

/** Whole lines; what came before the first end of line may be half a one. */
function linesOf(chunks: readonly CapturedChunk[]): { lines: string[]; newline: 'lf' | 'cr'; isText: boolean } {
  const text = Buffer.concat(chunks.map(({ bytes }) => bytes)).toString('latin1');
  const newline = text.includes('\n') || !text.includes('\r') ? 'lf' : 'cr';
  const lines = text.split(newline === 'lf' ? '\n' : '\r').slice(1, -1).map((line) => line.replace(/\r$/, '')).filter((line) => line.trim() !== '');
  // Signs of one-byte codes (ohm, micro, degree) stand above 0xa0.
  const printable = text.match(/[\t\r\n\x20-\x7e\xa0-\xff]/g)?.length ?? 0;
  return { lines, newline, isText: lines.length > 0 && printable >= PRINTABLE_SHARE * text.length };
}

function framesOf(chunks: readonly CapturedChunk[]): FramesFound | null {
  let from = chunks.length;
  for (let held = 0; from > 0 && held < FRAME_BYTES; from--) held += (chunks[from - 1] as CapturedChunk).bytes.length;
  return findFrames(chunks.slice(from));
}

function readFrame(layout: FrameLayout, frame: Uint8Array): Reading | null {
  let read: Reading | null = null;
  new FrameDecoder(layout).decode(frame, { reading: (reading) => { read = reading; }, skipped: () => undefined });
  return read;
}

function previewOf(sent: readonly string[], readings: readonly (Reading | null)[]): Preview {
  return sent.slice(0, MOST_PREVIEWED).map((one, i) => {
    const reading = readings[i] ?? null;
    return { sent: one, reading: reading === null ? null : shownReading(reading) };
  });
}

function hexOf(bytes: Uint8Array): string {
  return Buffer.from(bytes).toString('hex');
}

function bytesOf(hex: string): Uint8Array {
  return Uint8Array.from(Buffer.from(hex, 'hex'));
}

function originNow(): string {
  return `taught on ${new Date().toISOString().slice(0, 10)}`;
}
