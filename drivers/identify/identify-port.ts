/**
 * Finds out how to read a meter on an unknown port: listens at the likely baud rates until something can be read. Nothing is ever sent
 * while listening; only when nothing was heard, and only when allowed to, questions are asked (ask-port.ts).
 */
import type { LinkStatus } from '../meter.ts';
import type { Layout } from '../decoders/index.ts';
import { type CapturedChunk, findFrames, type FramesFound } from '../teach/frames.ts';
import { askPort } from './ask-port.ts';
import { guessDecoders, type Guess } from './score.ts';

/** A port as far as listening needs it; the wiring opens a real one, see `openListeningPort`. */
export interface ListeningPort {
  /** Left out by a link that has no rate (a network, a browser): it is listened to as it is. */
  setBaud?(baud: number, parity?: 'none' | 'even'): Promise<void>;
  /** Left out where there are no such lines. @returns false when they can't be set */
  setLines?(lines: { dtr: boolean; rts: boolean }): Promise<boolean>;
  onBytes(receive: (bytes: Uint8Array, arrival: number) => void): void;
  write(bytes: Uint8Array): void;
  close(): Promise<void>;
}

export interface RatedGuess extends Guess {
  /** Null for a link that has no rate. */
  readonly baud: number | null;
}

export type Identification =
  | { readonly kind: 'recognised'; readonly guesses: readonly RatedGuess[] }
  /** It talks, but nothing here reads it. `frames`: what repeats, to be taught; null when nothing does (wrong rate, or noise). */
  | { readonly kind: 'unrecognised'; readonly baud: number | null; readonly settings: string; readonly chunks: readonly CapturedChunk[]; readonly frames: FramesFound | null }
  /** Nothing came: it is off, asleep, or waits to be asked. */
  | { readonly kind: 'silent'; readonly asked: boolean }
  | { readonly kind: 'trouble'; readonly status: LinkStatus };

/** How far identifying is. */
export interface IdentifyProgress {
  readonly phase: 'listening' | 'asking';
  readonly baud: number | null;
  /** Heard at this rate so far. */
  readonly bytes: number;
  /** Part of the time that it may take, 0 to 1. */
  readonly share: number;
}

export interface IdentifyOptions {
  /** Layouts to try, those that come with Loomtrace included. */
  readonly layouts: readonly Layout[];
  /** The user has agreed that something is sent when nothing is heard. */
  readonly mayAsk?: boolean;
  /** s for everything; 5 when left out. A meter that says something seldom needs more. */
  readonly patience?: number;
  readonly signal?: AbortSignal;
  readonly onProgress?: (progress: IdentifyProgress) => void;
}

/** Common practice of meters and adapters, no source: the likeliest first. */
export const LIKELY_BAUDS = [9600, 2400, 19200, 115200, 4800, 38400, 57600, 1200] as const;
/** Opto-isolated cables take their power from these lines, and are dead with both on, as systems set them. Common practice, no source. */
const OPTO_POWER = { dtr: true, rts: false };
const OPTO_SETTINGS = 'dtr=on&rts=off';

/** Good enough to stop listening. */
const SURE = 0.8;
/** A rate at which this many bytes give no reading is wrong, or nothing known. */
const ENOUGH_BYTES = 40;
/** A rate is given up this long after a burst that made no sense, s. */
const AFTER_BURST = 0.06;
/** Longest wait at one rate, as a part of the patience: the first bytes come within it (1.1 s of 5) from most meters that talk by themselves. */
const LONGEST_WAIT = 0.22;
const STEP_MS = 10;
/** Frames after which their length is believed. */
const FRAMES_TO_SEE = 8;

export async function identify(port: ListeningPort, options: IdentifyOptions, clock: () => number): Promise<Identification> {
  return new Identifier(port, options, clock).run();
}

class Identifier {
  readonly #port: ListeningPort;
  readonly #options: IdentifyOptions;
  readonly #clock: () => number;
  readonly #patience: number;
  readonly #begin: number;
  #until: number;
  #chunks: CapturedChunk[] = [];
  #baud: number | null = null;
  #settings = '';

  constructor(port: ListeningPort, options: IdentifyOptions, clock: () => number) {
    this.#port = port;
    this.#options = options;
    this.#clock = clock;
    this.#patience = options.patience ?? 5;
    this.#begin = clock();
    this.#until = this.#begin + this.#patience;
    port.onBytes((bytes, arrival) => void this.#chunks.push({ bytes, arrival }));
  }

  get #isOver(): boolean {
    return this.#clock() >= this.#until || this.#options.signal?.aborted === true;
  }

  async run(): Promise<Identification> {
    const guesses: RatedGuess[] = [];
    let heard: { baud: number | null; chunks: CapturedChunk[] } | null = null;
    let rates: (number | null)[] = this.#port.setBaud === undefined ? [null] : [...LIKELY_BAUDS];
    let silences = 0;
    for (let baud = rates.shift(); baud !== undefined; baud = rates.shift()) {
      if (this.#isOver) break;
      await this.#setBaud(baud);
      const found = await this.#listen(heard !== null);
      guesses.push(...found.map((guess) => ({ ...guess, options: joinOptions(this.#settings, guess.options), baud })));
      const chunks = this.#chunks;
      if (chunks.length > 0 && (heard === null || looksRegular(chunks) > looksRegular(heard.chunks))) heard = { baud, chunks };
      if (found.some(({ confidence }) => confidence >= SURE)) break;
      if (baud !== null) rates = ratesLeft(rates as number[], baud, chunks);
      // Silence does not depend on the rate: two are enough. It may be the cable that has no power.
      if (chunks.length === 0 && heard === null && ++silences >= 2) {
        if (!(await this.#powerCable())) break;
        rates = [...LIKELY_BAUDS];
        silences = 1;
      }
    }
    if (guesses.length > 0) return { kind: 'recognised', guesses: guesses.sort((a, b) => b.confidence - a.confidence) };
    if (heard !== null) return this.#seeFrames(heard.baud);
    if (this.#options.mayAsk !== true || this.#options.signal?.aborted === true) return { kind: 'silent', asked: false };
    const answer = await askPort({
      port: this.#port,
      heard: () => this.#chunks,
      setBaud: (baud, parity) => this.#setBaud(baud, parity),
      isOver: () => this.#options.signal?.aborted === true,
      onProgress: (share) => this.#tell('asking', share),
    }, this.#clock);
    return answer === null ? { kind: 'silent', asked: true } : { kind: 'recognised', guesses: [{ ...answer, options: joinOptions(this.#settings, answer.options) }] };
  }

  /** Sets a rate and forgets what was heard at the one before. */
  async #setBaud(baud: number | null, parity: 'none' | 'even' = 'none'): Promise<void> {
    if (baud !== null) await this.#port.setBaud?.(baud, parity);
    this.#baud = baud;
    this.#chunks = [];
  }

  /** @returns false when there is nothing to switch, or it was switched already */
  async #powerCable(): Promise<boolean> {
    if (this.#port.setLines === undefined || this.#settings !== '') return false;
    if (!(await this.#port.setLines(OPTO_POWER))) return false;
    this.#settings = OPTO_SETTINGS;
    this.#until = this.#clock() + this.#patience;
    return true;
  }

  #tell(phase: IdentifyProgress['phase'], share?: number): void {
    const passed = (this.#clock() - this.#begin) / Math.max(this.#until - this.#begin, 0.001);
    this.#options.onProgress?.({ phase, baud: this.#baud, bytes: countBytes(this.#chunks), share: Math.min(1, share ?? passed) });
  }

  /** Listens at one rate: until something is sure, or what comes makes no sense. */
  async #listen(hasHeard: boolean): Promise<Guess[]> {
    const firstBy = Math.min(this.#until, this.#clock() + LONGEST_WAIT * this.#patience);
    const isOnlyRate = this.#baud === null;
    for (let step = 0; ; step++) {
      await pause(STEP_MS);
      if (step % 10 === 0) this.#tell('listening');
      const chunks = this.#chunks;
      const isOver = this.#isOver;
      if (chunks.length === 0) {
        if (isOver || (this.#clock() >= firstBy && (!isOnlyRate || hasHeard))) return [];
        continue;
      }
      const guesses = guessDecoders(chunks, this.#options.layouts);
      if (isOver || guesses.some(({ confidence }) => confidence >= SURE)) return guesses;
      const isQuiet = this.#clock() - (chunks.at(-1) as CapturedChunk).arrival > AFTER_BURST;
      // One whole line or frame may still be to come, unless this cannot be text or any layout.
      if (guesses.length === 0 && isQuiet && (countBytes(chunks) >= ENOUGH_BYTES || !couldBecomeReadable(chunks, this.#options.layouts))) return [];
    }
  }

  /** What repeats shows only with time: the rest of it goes to the rate at which the bursts were most alike. */
  async #seeFrames(baud: number | null): Promise<Identification> {
    await this.#setBaud(baud);
    while (!this.#isOver && findFrames(this.#chunks, FRAMES_TO_SEE) === null) {
      await pause(10 * STEP_MS);
      this.#tell('listening');
    }
    return { kind: 'unrecognised', baud, settings: this.#settings, chunks: this.#chunks, frames: findFrames(this.#chunks) };
  }
}

function pause(milliseconds: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, milliseconds));
}

function countBytes(chunks: readonly CapturedChunk[]): number {
  return chunks.reduce((sum, { bytes }) => sum + bytes.length, 0);
}

export function joinOptions(...options: string[]): string {
  return options.filter((option) => option !== '').join('&');
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

/** Whole lines of text, or bytes that a layout could begin with. Meters send a line in one go, so that a burst ends as the line does. */
function couldBecomeReadable(chunks: readonly CapturedChunk[], layouts: readonly Layout[]): boolean {
  const bytes = chunks.flatMap((chunk) => [...chunk.bytes]);
  const printable = bytes.filter((byte) => { const low = byte & 0x7f; return (low >= 0x20 && low < 0x7f) || low === 0x0a || low === 0x0d || low === 0x09; }).length;
  const last = (bytes.at(-1) as number) & 0x7f;
  if (printable >= 0.9 * bytes.length && (last === 0x0a || last === 0x0d)) return true;
  return layouts.some((layout) => layout.layout === 'frame/1' && layout.fixed.length > 0 && bytes.some((_, at) => {
    const within = layout.fixed.filter((bits) => at + bits.at < bytes.length);
    return within.length >= Math.min(layout.fixed.length, 4) && within.every((bits) => ((bytes[at + bits.at] as number) & bits.mask) === bits.equals);
  }));
}

/** Share of bytes in the most common burst length: at the right rate bursts are alike. */
function looksRegular(chunks: readonly CapturedChunk[]): number {
  const found = findFrames(chunks, 2);
  if (found === null) return 0;
  return found.frames.length * found.length / countBytes(chunks);
}
