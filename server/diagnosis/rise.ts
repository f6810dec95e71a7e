/** Excursions the good way, where no dropout can take the reading: a change of the level that is to be followed, or noise. */
import type { EntryThreshold } from './entry-threshold.ts';
import type { Pace } from './pace.ts';
import { extend } from './run.ts';
import type { Run } from './run.ts';

/** Readings of a level that is believed. */
const BELIEVED = 3;
/** So many thresholds away, and still there, is a step. */
const STEP = 3;
/** So many excursions within so many readings show that the noise itself has grown. */
const HITS = 6;
const HITS_WITHIN = 120;

export class Rise {
  readonly #pace: Pace;
  readonly #threshold: EntryThreshold;
  #run: Run | null = null;
  /** The same without its first reading, which may be partly before the step. */
  #rest: Run | null = null;
  /** Entry threshold when it began, SI: a step is felt as noise at first. */
  #entry = 0;
  #hits: number[] = [];

  constructor(pace: Pace, threshold: EntryThreshold) {
    this.#pace = pace;
    this.#threshold = threshold;
  }

  get isUnderWay(): boolean { return this.#run !== null; }
  /** The newest one stands, or stood to its end, as still as the level had: it was no noise. */
  get isStill(): boolean { return this.#rest !== null && this.#rest.high - this.#rest.low < this.#entry; }

  /** A reading this far the good way, SI, goes on with what began before the threshold rose. */
  holds(size: number): boolean { return this.#run !== null && this.isStill && size > this.#entry; }

  forget(): void { this.#run = null; }

  /** @param size  the good way, SI, positive @returns the readings that stand still at a new level, once they have for long enough */
  add(time: number, value: number, size: number): Run | null {
    if (this.#run === null) this.#entry = this.#threshold.entry;
    this.#rest = this.#run === null ? null : extend(this.#rest, time, value, size);
    const run = extend(this.#run, time, value, size);
    this.#run = run;
    if (run.high - run.low > Math.max(2 * this.#threshold.entry, 0.2 * run.peak)) {
      // Not there yet, or not still: what comes from here on may be.
      this.#run = { ...extend(null, time, value, size), peak: run.peak };
      this.#rest = null;
      return null;
    }
    if (run.n < BELIEVED || run.last - run.first < Math.min(this.#pace.mergeTime, 4 * this.#pace.interval)) return null;
    this.#run = null;
    return run;
  }

  /** It went back by itself. @returns how far noise took it, SI; 0 where it was a step, which noise does not make: far away, and still */
  end(): number {
    const run = this.#run;
    this.#run = null;
    if (run === null) return 0;
    const { entry } = this.#threshold;
    const spread = run.high - run.low;
    return run.n >= BELIEVED && spread < entry && run.peak - spread > STEP * entry ? 0 : run.peak;
  }

  /** One that was noise, `readings` into the take. @returns true when they come so often that the noise must have grown */
  countHit(readings: number): boolean {
    this.#hits.push(readings);
    if (this.#hits.length > HITS) this.#hits.shift();
    if (this.#hits.length < HITS || readings - (this.#hits[0] as number) >= HITS_WITHIN) return false;
    this.#hits = [];
    return true;
  }
}
