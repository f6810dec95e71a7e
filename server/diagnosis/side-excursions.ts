/** Excursions that stay below the threshold, or go the good way: peaks within the merge time count once. */
import type { NoiseScale } from './noise-scale.ts';
import type { Pace } from './pace.ts';
import { FIRST_EXCURSION } from './tail-learner.ts';
import type { TailLearner } from './tail-learner.ts';

interface Held { peak: number; until: number }

export class SideExcursions {
  readonly #tail: TailLearner;
  readonly #noise: NoiseScale;
  readonly #pace: Pace;
  readonly #held: readonly [Held, Held] = [{ peak: 0, until: -Infinity }, { peak: 0, until: -Infinity }];

  constructor(tail: TailLearner, noise: NoiseScale, pace: Pace) {
    this.#tail = tail;
    this.#noise = noise;
    this.#pace = pace;
  }

  /** @param change  of a reading from the level, SI @returns true for one that is worth noting */
  isFar(change: number): boolean { return Math.abs(change) > FIRST_EXCURSION * this.#noise.deviation; }

  /** @param change  of a quiet reading from the level, SI, signed, and far */
  note(time: number, change: number): void {
    const side = change > 0 ? 1 : 0;
    const peak = Math.abs(change) / this.#noise.deviation;
    const held = this.#held[side];
    if (time <= held.until) {
      held.peak = Math.max(held.peak, peak);
      return;
    }
    if (held.peak > 0) this.#tail.add(side, held.peak);
    held.peak = peak;
    held.until = time + this.#pace.mergeTime;
  }
}
