/**
 * Excursions that stay below the threshold, or go the good way: peaks within the merge time count once. How large they were is told a
 * moment later: the first readings of noise that has grown are large only against the noise before.
 */
import type { NoiseScale } from './noise-scale.ts';
import type { Pace } from './pace.ts';
import { FIRST_EXCURSION } from './tail-learner.ts';
import type { TailLearner } from './tail-learner.ts';

/** Sizes in SI, times in s; `deviation` is the largest noise since it began. */
interface Excursion { readonly side: 0 | 1; readonly until: number; size: number; readonly others: number[]; deviation: number }

export class SideExcursions {
  readonly #tail: TailLearner;
  readonly #noise: NoiseScale;
  readonly #pace: Pace;
  /** Those of the last moments, oldest first. */
  #recent: Excursion[] = [];
  /** The newest one below and above the level. */
  readonly #newest: [Excursion | null, Excursion | null] = [null, null];

  /** The noise with which all of them were looked at last; NaN when one has begun since. */
  #settledWith = Number.NaN;

  constructor(tail: TailLearner, noise: NoiseScale, pace: Pace) {
    this.#tail = tail;
    this.#noise = noise;
    this.#pace = pace;
  }

  /** What goes farther from the level is worth noting, SI. */
  get least(): number { return FIRST_EXCURSION * this.#noise.deviation; }

  /** @param change  of a reading from the level, SI, signed, and far */
  note(time: number, change: number): void {
    const side = change > 0 ? 1 : 0;
    const size = Math.abs(change);
    const held = this.#newest[side];
    if (held !== null && time <= held.until) {
      held.others.push(Math.min(held.size, size));
      held.size = Math.max(held.size, size);
      return;
    }
    const begun: Excursion = { side, until: time + this.#pace.mergeTime, size, others: [], deviation: this.#noise.deviation };
    this.#newest[side] = begun;
    this.#settledWith = Number.NaN;
    this.#recent.push(begun);
  }

  /** The noise as it is at `time` is known. */
  settle(time: number): void {
    const oldest = this.#recent[0];
    if (oldest === undefined) return;
    const { deviation, moment } = this.#noise;
    if (deviation === this.#settledWith && time <= oldest.until + moment) return;
    this.#settledWith = deviation;
    let settled = 0;
    for (const one of this.#recent) {
      if (deviation > one.deviation) one.deviation = deviation;
      if (time <= one.until + moment) continue;
      settled++;
      this.#tail.add(one.side, one.size / one.deviation);
      for (const other of one.others) this.#tail.addOther(one.side, other / one.deviation);
    }
    for (; settled > 0; settled--) this.#recent.shift();
  }
}
