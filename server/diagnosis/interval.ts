/** The meter's own pace, measured from the times of its samples. */

/** A power of two. */
const REMEMBERED = 64;

/** Differences of decimal times carry rounding: whole nanoseconds are fine enough for any meter. */
const PER_SECOND = 1e9;

/**
 * Sample interval as the median of recent time differences: lost samples and late ones don't move it.
 * Feed it every difference; it looks again after 1, 2, 4 ... 64 of them, and then every 64.
 */
export class MeasuredInterval {
  /** Differences, ns, and the middle one of them. */
  readonly #ring = new Float64Array(REMEMBERED);
  #middle = Number.NaN;
  #count = 0;
  #next = 1;
  /** s; NaN before two samples. */
  value = Number.NaN;

  /** @param difference  from one sample to the next, s (> 0) @returns true when `value` has changed */
  add(difference: number): boolean {
    this.#ring[this.#count & (REMEMBERED - 1)] = Math.round(difference * PER_SECOND);
    this.#count++;
    if (this.#count < this.#next) return false;
    this.#next = this.#count < REMEMBERED ? this.#count * 2 : this.#count + REMEMBERED;
    const known = Math.min(this.#count, REMEMBERED);
    // The lower median: while only two are known, the shorter one is the pace and the longer a gap.
    const place = (known - 1) >> 1;
    if (this.#stays(known, place)) return false;
    const middle = this.#ring.slice(0, known).sort()[place] as number;
    this.#middle = middle;
    this.value = middle / PER_SECOND;
    return true;
  }

  /** Whether the middle one is at that place still, as it is with a steady meter. */
  #stays(known: number, place: number): boolean {
    const ring = this.#ring;
    const middle = this.#middle;
    let shorter = 0;
    let same = 0;
    for (let i = 0; i < known; i++) {
      const difference = ring[i] as number;
      if (difference < middle) shorter++;
      else if (difference === middle) same++;
    }
    return shorter <= place && place < shorter + same;
  }
}
