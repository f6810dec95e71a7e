/**
 * What a take would have caught as a whole: noise and threshold are learned and change while it runs, so the chance of catching a
 * dropout that may come at any moment of it is the mean of the chances at its moments. Rates and limits over the take divide by this one.
 */
import { CoarseSight } from './coarse-sight.ts';
import type { ChanceRange } from './coarse-sight.ts';
import { inLogSteps } from './log-steps.ts';
import { StepTally } from './step-tally.ts';
import { catchChance } from './visibility.ts';
import type { MeterView } from './visibility.ts';

/** What is in force at one moment, SI; `depth` is how far a full dropout goes. */
export interface Moment {
  readonly entry: number;
  readonly noise: number;
  readonly resolution: number;
  readonly depth: number;
}

/** What a coarse display shows at that moment. */
export interface Shown {
  /** Level that the judge has found, and some of the newest readings (at most 16), SI. */
  readonly level: number;
  readonly readings: Float64Array;
  /** Which way a dropout moves the reading. */
  readonly direction: -1 | 1;
}

/** Newest readings that are looked at. */
export const MOST_SHOWN = 16;

/** Ratios are kept in steps of this factor: a change within one moves a chance by less than 0.006. */
const STEP = Math.log(1.0025);
/** A display is coarse when its noise, rounding included, is less than this many counts: then where the level lies between two counts matters. */
const COARSE_BELOW = 0.9;

interface Memo { readonly asked: string; readonly chance: number }

export class TakeSight {
  readonly #kept = new StepTally<Memo>();
  readonly #coarse = new CoarseSight((moments) => {
    for (const { entry, noise, depth, weight } of moments) this.#keep({ entry, noise, depth, resolution: 1 }, weight);
  });
  #isCoarse = false;
  /** Newest readings in counts. */
  readonly #quiet = new Float64Array(MOST_SHOWN);
  /** The chance is remembered: it changes only with what it is asked for, and with what was noted. */
  #last: { asked: string; noted: number; range: ChanceRange } = { asked: '', noted: -1, range: { low: 0, high: 1 } };
  #noted = 0;

  /** @param weight  readings that were judged so (> 0) @param shown  for a display that may be coarse */
  note(moment: Moment, weight: number, shown?: Shown): void {
    const { entry, noise, resolution: count, depth } = moment;
    if (!(depth > 0 && entry > 0 && noise >= 0 && weight > 0)) return;
    this.#noted++;
    this.#isCoarse = shown !== undefined && noise < COARSE_BELOW * count;
    if (shown === undefined || !this.#isCoarse) {
      this.#coarse.close();
      this.#keep(moment, weight);
      return;
    }
    const down = -shown.direction;
    let n = 0;
    for (let k = 0; k < shown.readings.length; k++) {
      const value = shown.readings[k] as number;
      if (Math.abs(value - shown.level) < entry) this.#quiet[n++] = Math.round((down * value) / count);
    }
    this.#coarse.note(this.#quiet, n, { level: (down * shown.level) / count, entry: entry / count, noise: noise / count, depth: depth / count }, weight);
  }

  #keep({ entry, noise, resolution, depth }: Moment, weight: number): void {
    this.#kept.add(stepsOf(entry / depth), stepsOf(noise / depth), stepsOf(resolution / depth), weight);
  }

  /**
   * Mean chance of catching a full dropout of `length` s that comes at any moment of what was noted: lowest and highest that fit what was shown, the same but
   * on a coarse display.
   * @param z  noise deviations that a departure needs to be listed, as all noise seen by now shows
   * @returns null when nothing was noted
   */
  chance(length: number, { interval, aperture }: Pick<MeterView, 'interval' | 'aperture'>, z: number): ChanceRange | null {
    const least = inLogSteps(z, STEP);
    const asked = `${length},${interval},${aperture},${least}`;
    if (this.#last.asked === asked && this.#last.noted === this.#noted) return this.#last.range;
    let sum = 0;
    for (const kept of this.#kept.entries()) {
      if (kept.memo?.asked !== asked) {
        const [entry, noise, resolution] = ([kept.a, kept.b, kept.c] as const).map((steps) => Math.exp(steps * this.#kept.width * STEP)) as [number, number, number];
        kept.memo = { asked, chance: catchChance(length, { interval, aperture, depth: 1, noise, resolution, threshold: Math.max(entry, least * noise) }) };
      }
      sum += kept.weight * kept.memo.chance;
    }
    const coarse = this.#coarse.range(length, { interval, aperture }, least);
    const total = this.#kept.weight + coarse.weight;
    if (total === 0) return null;
    const range = { low: Math.min(1, (sum + coarse.low * coarse.weight) / total), high: Math.min(1, (sum + coarse.high * coarse.weight) / total) };
    this.#last = { asked, noted: this.#noted, range };
    return range;
  }

  /** The same as a coarse display shows now, `version` telling one state of it from the next; null where it is not coarse, or nothing tells yet. */
  get coarseNow(): CoarseSight['now'] { return this.#isCoarse ? this.#coarse.now : null; }
}

function stepsOf(ratio: number): number { return ratio > 0 ? Math.log(ratio) / STEP : Number.NEGATIVE_INFINITY; }
