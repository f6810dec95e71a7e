/**
 * Meters that only answer. An asker is a decoder that also says what to send and when. Pure: time is handed in, and
 * whoever holds the link sends what it says.
 */
import type { Decoder, DecodeSink } from './decoder.ts';

export interface Asker extends Decoder {
  /**
   * Called when connected, whenever `askAgainAt` has come, and after every chunk.
   * @param now  monotonic clock, s
   * @returns what to send now; null for nothing
   */
  ask(now: number): Uint8Array | null;
  /** When to call `ask` again if nothing comes before, s on the same clock. */
  askAgainAt(): number;
}

export function isAsker(decoder: Decoder): decoder is Asker {
  return 'ask' in decoder;
}

/** Sends one command at a fixed period and leaves the answers to another decoder. */
export class FixedAsker implements Asker {
  readonly #decoder: Decoder;
  readonly #command: Uint8Array;
  readonly #every: number;
  #dueAt = -Infinity;

  /** @param every  s from one question to the next */
  constructor(decoder: Decoder, command: Uint8Array, every: number) {
    if (!(every > 0)) throw new RangeError(`questions must be more than 0 s apart, not ${every}`);
    this.#decoder = decoder;
    this.#command = command;
    this.#every = every;
  }

  decode(bytes: Uint8Array, sink: DecodeSink): void {
    this.#decoder.decode(bytes, sink);
  }

  ask(now: number): Uint8Array | null {
    if (now < this.#dueAt) return null;
    // On the grid of the period, unless it was missed.
    this.#dueAt = this.#dueAt + this.#every > now ? this.#dueAt + this.#every : now + this.#every;
    return this.#command;
  }

  askAgainAt(): number {
    return this.#dueAt;
  }
}
