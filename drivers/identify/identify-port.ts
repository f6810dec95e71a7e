/**
 * Finds out how to read a meter on an unknown port: listens at the likely baud rates until something can be read. Nothing is ever sent
 * while listening; only when nothing was heard, and only when allowed to, the standard question for an identity is asked.
 */
import type { LinkStatus } from '../meter.ts';
import type { FrameLayout } from '../decoders/frame-layout.ts';
import { type CapturedChunk, findFrames, type FramesFound } from '../teach/frames.ts';
import { guessDecoders, type Guess } from './score.ts';

/** A port as far as listening needs it; the wiring opens a real one, see `openListeningPort`. */
export interface ListeningPort {
  setBaud(baud: number): Promise<void>;
  onBytes(receive: (bytes: Uint8Array, arrival: number) => void): void;
  write(bytes: Uint8Array): void;
  close(): Promise<void>;
}

export interface RatedGuess extends Guess {
  readonly baud: number;
}

export type Identification =
  | { readonly kind: 'recognised'; readonly guesses: readonly RatedGuess[] }
  /** It talks, but nothing here reads it. `frames`: what repeats, to be taught; null when nothing does (wrong rate, or noise). */
  | { readonly kind: 'unrecognised'; readonly baud: number; readonly chunks: readonly CapturedChunk[]; readonly frames: FramesFound | null }
  /** Nothing came: it is off, asleep, or waits to be asked. */
  | { readonly kind: 'silent'; readonly asked: boolean }
  | { readonly kind: 'trouble'; readonly status: LinkStatus };

export interface IdentifyOptions {
  /** Layouts to try, those that come with Loomtrace included. */
  readonly layouts: readonly FrameLayout[];
  /** The user has agreed that something is sent when nothing is heard. */
  readonly mayAsk?: boolean;
  /** s for everything; 5 when left out. */
  readonly patience?: number;
  readonly signal?: AbortSignal;
}

/** Common practice of meters and adapters, no source: the likeliest first. */
export const LIKELY_BAUDS = [9600, 2400, 19200, 115200, 4800, 38400, 57600, 1200] as const;

/** Good enough to stop listening. */
const SURE = 0.8;
/** A rate at which this many bytes give no reading is wrong, or nothing known. */
const ENOUGH_BYTES = 40;
/** A rate is given up this long after a burst that made no sense, s. */
const AFTER_BURST = 0.06;
/** Longest wait at one rate, s: the first bytes come within it from most meters that talk by themselves. */
const LONGEST_WAIT = 1.1;
const STEP_MS = 10;
/** Frames after which their length is believed. */
const FRAMES_TO_SEE = 8;

export async function identify(port: ListeningPort, options: IdentifyOptions, clock: () => number): Promise<Identification> {
  const until = clock() + (options.patience ?? 5);
  let chunks: CapturedChunk[] = [];
  port.onBytes((bytes, arrival) => void chunks.push({ bytes, arrival }));
  const guesses: RatedGuess[] = [];
  let heard: { baud: number; chunks: CapturedChunk[] } | null = null;
  let rates: number[] = [...LIKELY_BAUDS];
  for (let baud = rates.shift(); baud !== undefined; baud = rates.shift()) {
    if (clock() >= until || options.signal?.aborted === true) break;
    await port.setBaud(baud);
    chunks = [];
    const found = await listen(() => chunks, Math.min(until, clock() + LONGEST_WAIT), until, options, clock);
    guesses.push(...found.map((guess) => ({ ...guess, baud })));
    if (chunks.length > 0 && (heard === null || looksRegular(chunks) > looksRegular(heard.chunks))) heard = { baud, chunks };
    if (found.some(({ confidence }) => confidence >= SURE)) break;
    rates = ratesLeft(rates, baud, chunks);
    // Silence does not depend on the rate.
    if (chunks.length === 0 && heard === null && baud !== LIKELY_BAUDS[0]) break;
  }
  if (guesses.length > 0) return { kind: 'recognised', guesses: guesses.sort((a, b) => b.confidence - a.confidence) };
  if (heard !== null) {
    // What repeats shows only with time: the rest of it goes to the rate at which the bursts were most alike.
    await port.setBaud(heard.baud);
    chunks = [];
    while (clock() < until && options.signal?.aborted !== true && findFrames(chunks, FRAMES_TO_SEE) === null) {
      await new Promise((resolve) => setTimeout(resolve, 10 * STEP_MS));
    }
    return { kind: 'unrecognised', baud: heard.baud, chunks, frames: findFrames(chunks) };
  }
  if (options.mayAsk !== true) return { kind: 'silent', asked: false };
  return ask(port, (fresh) => (chunks = fresh ?? chunks), options, clock);
}

/**
 * Noise tells whether the rate is too high or too low: listened to twice as fast or faster, no bit of the line stands alone, as each
 * lasts two bits here; listened to too slowly, many do.
 */
function ratesLeft(rates: readonly number[], baud: number, chunks: readonly CapturedChunk[]): number[] {
  const bytes = chunks.flatMap((chunk) => [...chunk.bytes]);
  if (bytes.length < 4) return [...rates];
  const alone = bytes.filter((byte) => [0, 1, 2, 3, 4, 5].some((i) => [0b010, 0b101].includes((byte >> i) & 7))).length / bytes.length;
  if (alone < 0.05) return rates.filter((rate) => rate < baud);
  return alone > 0.3 ? rates.filter((rate) => rate > baud) : [...rates];
}

/** Listens at one rate: until something is sure, or what comes makes no sense. */
async function listen(heard: () => readonly CapturedChunk[], firstBy: number, until: number, options: IdentifyOptions, clock: () => number): Promise<Guess[]> {
  for (;;) {
    await new Promise((resolve) => setTimeout(resolve, STEP_MS));
    const chunks = heard();
    const now = clock();
    const isOver = now >= until || options.signal?.aborted === true;
    if (chunks.length === 0) {
      if (isOver || now >= firstBy) return [];
      continue;
    }
    const guesses = guessDecoders(chunks, options.layouts);
    if (isOver || guesses.some(({ confidence }) => confidence >= SURE)) return guesses;
    const bytes = chunks.reduce((sum, chunk) => sum + chunk.bytes.length, 0);
    const isQuiet = now - (chunks.at(-1) as CapturedChunk).arrival > AFTER_BURST;
    // One whole line or frame may still be to come, unless this cannot be text or any layout.
    if (guesses.length === 0 && isQuiet && (bytes >= ENOUGH_BYTES || !couldBecomeReadable(chunks, options.layouts))) return [];
  }
}

/** Whole lines of text, or bytes that a layout could begin with. Meters send a line in one go, so that a burst ends as the line does. */
function couldBecomeReadable(chunks: readonly CapturedChunk[], layouts: readonly FrameLayout[]): boolean {
  const bytes = chunks.flatMap((chunk) => [...chunk.bytes]);
  const printable = bytes.filter((byte) => { const low = byte & 0x7f; return (low >= 0x20 && low < 0x7f) || low === 0x0a || low === 0x0d || low === 0x09; }).length;
  const last = (bytes.at(-1) as number) & 0x7f;
  if (printable >= 0.9 * bytes.length && (last === 0x0a || last === 0x0d)) return true;
  return layouts.some(({ fixed }) => fixed.length > 0 && bytes.some((_, at) => {
    const within = fixed.filter((bits) => at + bits.at < bytes.length);
    return within.length >= Math.min(fixed.length, 4) && within.every((bits) => ((bytes[at + bits.at] as number) & bits.mask) === bits.equals);
  }));
}

/** Share of bytes in the most common burst length: at the right rate bursts are alike. */
function looksRegular(chunks: readonly CapturedChunk[]): number {
  const found = findFrames(chunks, 2);
  if (found === null) return 0;
  return found.frames.length * found.length / chunks.reduce((sum, { bytes }) => sum + bytes.length, 0);
}

const ASKED_BAUDS = [9600, 115200, 19200] as const;
const ANSWER_WAIT = 0.4;

async function ask(port: ListeningPort, chunks: (fresh?: CapturedChunk[]) => CapturedChunk[], options: IdentifyOptions, clock: () => number): Promise<Identification> {
  for (const baud of ASKED_BAUDS) {
    if (options.signal?.aborted === true) break;
    await port.setBaud(baud);
    chunks([]);
    port.write(Buffer.from('*IDN?\n', 'latin1'));
    const until = clock() + ANSWER_WAIT;
    while (clock() < until) {
      await new Promise((resolve) => setTimeout(resolve, STEP_MS));
      const text = chunks().map(({ bytes }) => Buffer.from(bytes).toString('latin1')).join('');
      // IEEE 488.2, 10.14: maker, model, serial number, firmware.
      const identity = /^\s*([\x20-\x2b\x2d-\x7e]+(?:,[\x20-\x2b\x2d-\x7e]*){3})\r?\n/.exec(text);
      if (identity === null) continue;
      const guess: RatedGuess = { baud, options: 'decoder=scpi', confidence: 1, readings: [], interval: null, doubts: [`It says that it is ${identity[1] as string}.`] };
      return { kind: 'recognised', guesses: [guess] };
    }
  }
  return { kind: 'silent', asked: true };
}
