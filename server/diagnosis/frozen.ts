/**
 * Readings that stay the same for longer than their own noise allows: hold pressed without a flag, or a meter that hangs. Such
 * time was not watched. Pure; streaming, constant memory; the same however the samples are cut.
 *
 * With Gaussian noise of s >= q/2 before rounding to counts of q, two neighbouring readings agree with chance at most 0.56
 * (wherever the level lies between two counts), so 40 alike come by chance once in 0.56^-39 = 7e9 readings. Below q/2 a display that
 * stands still says nothing. The mean square of successive differences is 2 (s^2 + q^2/12); a reading that only flickers between
 * two counts gives q^2/2, which stays below the 2/3 q^2 of s = q/2. Noise that hangs together makes longer runs: those seen before
 * count as allowed, threefold.
 */
import type { SampleColumns } from './samples.ts';

const LEAST_RUN = 40;
const RUN_FACTOR = 3;
const LEAST_PAIRS = 100;
/** Smallest s^2, in squared counts, from which a standing display is news. */
const TELLING_VARIANCE = 0.25;
/** A step counts at most this much, in squared counts: dropouts and load steps are no noise. */
const LARGEST_SQUARE = 16;

export class FrozenWatch {
  #value = NaN;
  /** Of the run of equal readings: first and last time, s, and how many. */
  #start = 0;
  #last = 0;
  #run = 0;
  #longest = 0;
  #frozen = 0;
  /** Of the differences between neighbours outside frozen runs, in counts. */
  #squares = 0;
  #pairs = 0;

  push({ value, time, resolution }: SampleColumns, from: number, to: number): void {
    // Kept at hand during the loop, and written back where something asks for them.
    let previous = this.#value;
    let run = this.#run;
    let squares = this.#squares;
    let pairs = this.#pairs;
    let longest = this.#longest;
    // Where the run begins; before `from` when it was under way.
    let runAt = from - 1;
    // One division as long as the count stays.
    let count = Number.NaN;
    let perCount = Number.NaN;
    for (let i = from; i < to; i++) {
      const now = value[i] as number;
      if (now === previous) {
        run++;
        continue;
      }
      if (run > 1 && run < LEAST_RUN) {
        pairs += run - 1;
        if (run > longest) longest = run;
      } else if (run > 1) {
        this.#run = run;
        this.#longest = longest;
        this.#squares = squares;
        this.#pairs = pairs;
        if (runAt >= from) this.#start = time[runAt] as number;
        if (i > from) this.#last = time[i - 1] as number;
        this.#end();
        pairs = this.#pairs;
        longest = this.#longest;
      }
      if (resolution[i] !== count) {
        count = resolution[i] as number;
        perCount = 1 / count;
      }
      const step = (now - previous) * perCount;
      const square = step * step;
      // Not a number beside over-range, blank, and where the count is not known.
      if (square < Infinity) {
        // The smaller of the two. Which one it is can't be foreseen, and a wrong guess would cost more than all the rest.
        squares += (square + LARGEST_SQUARE - Math.abs(square - LARGEST_SQUARE)) / 2;
        pairs++;
      }
      previous = now;
      runAt = i;
      run = 1;
    }
    this.#value = previous;
    this.#run = run;
    this.#squares = squares;
    this.#pairs = pairs;
    this.#longest = longest;
    if (runAt >= from) this.#start = time[runAt] as number;
    if (to > from) this.#last = time[to - 1] as number;
  }

  /** Time spent frozen so far, s. */
  get time(): number {
    return this.#frozen + (this.#isFrozen ? this.#last - this.#start : 0);
  }

  get #isFrozen(): boolean {
    const isTelling = this.#pairs >= LEAST_PAIRS && this.#squares / this.#pairs / 2 - 1 / 12 >= TELLING_VARIANCE;
    return isTelling && this.#run >= Math.max(LEAST_RUN, RUN_FACTOR * this.#longest);
  }

  #end(): void {
    if (this.#isFrozen) {
      this.#frozen += this.#last - this.#start;
    } else {
      if (this.#run > this.#longest) this.#longest = this.#run;
      this.#pairs += Math.max(0, this.#run - 1);
    }
  }
}
