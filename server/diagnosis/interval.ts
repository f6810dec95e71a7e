/** The meter's own pace, measured from the times of its samples. */

/** A power of two. */
const REMEMBERED = 64;

/**
 * Sample interval as the median of recent time differences: lost samples and late ones don't move it.
 * Feed it every difference; it looks again after 1, 2, 4 ... 64 of them, and then every 64.
 */
export class MeasuredInterval {
  readonly #ring = new Float64Array(REMEMBERED);
  readonly #work = new Float64Array(REMEMBERED);
  #count = 0;
  #next = 1;
  /** s; NaN before two samples. */
  value = Number.NaN;

  /** @param difference  from one sample to the next, s (> 0) @returns true when `value` has changed */
  add(difference: number): boolean {
    this.#ring[this.#count & (REMEMBERED - 1)] = difference;
    this.#count++;
    if (this.#count < this.#next) return false;
    this.#next = this.#count < REMEMBERED ? this.#count * 2 : this.#count + REMEMBERED;
    const known = Math.min(this.#count, REMEMBERED);
    this.#work.set(this.#ring);
    const sorted = this.#work.subarray(0, known).sort();
    // The lower median: while only two are known, the shorter one is the pace and the longer a gap.
    // Differences of decimal times carry rounding: whole nanoseconds are fine enough for any meter.
    const before = this.value;
    this.value = Math.round((sorted[(sorted.length - 1) >> 1] as number) * 1e9) / 1e9;
    return this.value !== before;
  }
}
