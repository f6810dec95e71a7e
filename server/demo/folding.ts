/** When the gantry folds, and for how long that opens the bad crimp: seeded, so that a run can be repeated. */

export interface Open { readonly start: number; readonly end: number }

/** Time from one opening to the next, s, and length of an opening, s. */
export const FOLDING = { every: [4, 9], open: [0.02, 0.15] } as const;

export class FoldingSchedule {
  readonly #random: () => number;
  readonly #opens: Open[] = [];
  #next: number;

  constructor(seed: number) {
    this.#random = randomFrom(seed);
    this.#next = between(this.#random(), FOLDING.every);
  }

  /** Openings that begin before a time, in order, s. */
  opensUntil(time: number): readonly Open[] {
    this.#extend(time);
    return this.#opens.filter((open) => open.start < time);
  }

  isOpen(time: number): boolean {
    this.#extend(time);
    // The last opening that began at or before the time, by halving.
    let low = 0;
    let high = this.#opens.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if ((this.#opens[middle] as Open).start <= time) low = middle + 1;
      else high = middle;
    }
    const last = this.#opens[low - 1];
    return last !== undefined && time < last.end;
  }

  #extend(time: number): void {
    while (this.#next <= time) {
      const start = this.#next;
      const end = start + between(this.#random(), FOLDING.open);
      this.#opens.push({ start, end });
      this.#next = end + between(this.#random(), FOLDING.every);
    }
  }
}

function between(share: number, [low, high]: readonly [number, number]): number {
  return low + share * (high - low);
}

/** Uniform numbers from 0 to 1 by a 32-bit mixing generator (mulberry32, public domain). */
function randomFrom(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296;
  };
}
