/**
 * Ranges of an auto-ranging meter, told by the value of one count. Many meters show a reading or two that have not settled after
 * they change their range, and don't mark them: the level seems to drop and come back, in another range.
 */

/** Readings in one range before and after, for the change to be one of range and not of how numbers are written. */
const SETTLED_BEFORE = 8;
const SETTLED_AFTER = 3;
/** Counts of neighbouring ranges differ tenfold, at least twofold. */
const RATIO = 2;
/** Readings that may be unsettled after a change. */
export const UNSETTLED = 3;

export class RangeWatch {
  #count = Number.NaN;
  #run = 0;
  #countBefore = Number.NaN;
  #runBefore = 0;

  /** @param count  value of one count of the newest reading, SI */
  add(count: number): void {
    this.#countBefore = this.#count;
    this.#runBefore = this.#run;
    if (count === this.#count) this.#run++;
    else {
      this.#count = count;
      this.#run = 1;
    }
  }

  /** Many readings in the range of the newest one, none of which needed a look. */
  skip(readings: number): void { this.#run += readings; }

  /** Count of the range, SI, when it has been in use for a while; else NaN. */
  get settled(): number { return this.#run >= SETTLED_BEFORE ? this.#count : Number.NaN; }

  /** The same before the newest reading. */
  get settledBefore(): number { return this.#runBefore >= SETTLED_BEFORE ? this.#countBefore : Number.NaN; }

  /** True when the meter is in another range than `before` now, and has stayed there. */
  hasLeft(before: number): boolean {
    return this.#run >= SETTLED_AFTER && this.#count > 0 && Math.max(this.#count, before) >= RATIO * Math.min(this.#count, before);
  }
}
