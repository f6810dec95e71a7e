/**
 * How far noise alone reaches, learned from the signal. A dropout can only move the reading one way; what the reading does the
 * other way is noise, so its excursions there say how high the threshold must be. Where both ways are bad, each way asks the other.
 */
import { poissonCdf } from './distributions.ts';
import { normalOf } from './noise-scale.ts';
import { normalUpper } from './normal.ts';
import { excessLimit } from './tail-fit.ts';
import type { Excess } from './tail-fit.ts';

/** Excursions are counted from here up, in noise deviations, in classes of this ratio. */
export const FIRST_EXCURSION = 2;
const RATIO = 1.05;
const BINS = 152;
/** Largest excursions, about, that the tail is drawn through: enough to tell its shape, few enough to be tail. */
const TAIL = 200;
/** Noise is heavier than normal where so many times as many excursions were seen as expected, and the chance of as many is so small: it is asked many times in a take. */
const BEYOND = 3;
const SURPRISE = 0.002;

/** What is shown in finer steps than this, in deviations, may be taken as shown in these. */
const FINE = 0.05;

/** Where one step of the display is larger, in deviations, what lies within a step hardly tells normal noise from any other. */
const COARSE = 1.5;
/**
 * Odds that such noise is heavier than normal, before anything was seen of it: a choice. Where the display flickers enough to tell s from its floor of
 * q / sqrt(12), it is seldom; where it does not (the step is within 5 % of sqrt(12) deviations), nothing at all is known of the noise.
 */
const HEAVIER_ODDS = 0.02;
const HIDDEN = 3.3;
const HIDDEN_ODDS = 1;

/** So many excursions of one reading each are thought seen besides: of few it is not known how long they last. */
const SINGLE = 10;

const binOf = (size: number): number => Math.min(BINS - 1, Math.floor(Math.log(size / FIRST_EXCURSION) / Math.log(RATIO)));

/** Excursions, in classes of their peak; sizes in noise deviations. */
class Excursions {
  readonly #counts = new Float64Array(BINS);
  /** Sums of the sizes in each class. */
  readonly #sums = new Float64Array(BINS);
  /** Readings besides the farthest of their excursion, in the same classes. */
  readonly #others = new Float64Array(BINS);
  total = 0;

  add(peak: number): void {
    const bin = binOf(peak);
    if (bin < 0) return;
    this.#counts[bin] = (this.#counts[bin] as number) + 1;
    this.#sums[bin] = (this.#sums[bin] as number) + peak;
    this.total++;
  }

  addOther(size: number): void {
    const bin = binOf(size);
    if (bin >= 0) this.#others[bin] = (this.#others[bin] as number) + 1;
  }

  /**
   * Threshold that lets through the number of false alarms allowed so far, in noise deviations; 0 when nothing clearly beyond
   * normal noise was seen, unless the display is coarse. Where the noise is normal up to some size, the tail begins there.
   * @param readings  quiet readings watched
   * @param allowed  false alarms that the budget allows in them
   * @param swing  amplitude of the bounded part of the noise, in deviations
   * @param step  of the display, in deviations: what is shown may have been half a step less, or more
   */
  threshold(readings: number, allowed: number, swing: number, step: number): number {
    const isCoarse = step > COARSE;
    let above = 0;
    let others = 0;
    let from = -1;
    let last = -1;
    for (let bin = BINS - 1; bin >= 0; bin--) {
      others += this.#others[bin] as number;
      if (this.#counts[bin] === 0) continue;
      const more = above + (this.#counts[bin] as number);
      // As near to it as the classes allow: on a coarse display the next one may hold most of all there is.
      if (more > TAIL && above * more > TAIL * TAIL) break;
      above = more;
      const lasting = 1 + others / (above + SINGLE);
      const least = isCoarse ? this.#meanOf(bin) - step / 2 : normalOf(swing, FIRST_EXCURSION * RATIO ** bin);
      const expected = (readings * normalUpper(least)) / lasting;
      if (above > BEYOND * expected && 1 - poissonCdf(above - 1, expected) < SURPRISE) from = bin;
      last = bin;
    }
    const looksNormal = from < 0;
    if (isCoarse) from = last;
    if (from < 0) return 0;
    const start = FIRST_EXCURSION * RATIO ** from;
    const grid = Math.max(step, FINE);
    const excesses: Excess[] = [];
    let n = 0;
    for (let bin = from; bin < BINS; bin++) {
      const count = this.#counts[bin] as number;
      if (count === 0) continue;
      n += count;
      // Less half a step, as the threshold is: both are what the noise itself did.
      const size = this.#meanOf(bin) - start;
      excesses.push({ from: size, to: size + grid, least: size % grid, count });
    }
    // What is shown at the threshold was at least half a step less: there the noise itself is where it is rare enough.
    return n <= allowed ? start : start + excessLimit(excesses, allowed, looksNormal ? { from: start - step / 2, heavierOdds: step > HIDDEN ? HIDDEN_ODDS : HEAVIER_ODDS } : null);
  }

  #meanOf(bin: number): number { return (this.#sums[bin] as number) / (this.#counts[bin] as number); }
}

export class TailLearner {
  readonly #sides = [new Excursions(), new Excursions()] as const;

  /** Excursions seen on both sides. */
  get total(): number { return this.#sides[0].total + this.#sides[1].total; }

  /** @param side  0 below, 1 above the level @param peak  farthest reading of the excursion, in noise deviations */
  add(side: 0 | 1, peak: number): void { if (peak > FIRST_EXCURSION) this.#sides[side].add(peak); }

  /** Another reading of an excursion, which was not its farthest. Correlated noise stays out for several readings. */
  addOther(side: 0 | 1, size: number): void { if (size > FIRST_EXCURSION) this.#sides[side].addOther(size); }

  /**
   * Threshold learned from the side where only noise can appear, in noise deviations; 0 when the noise there looks normal.
   * @param readings  quiet readings watched @param allowed  false alarms that the budget allows in them
   * @param swing  amplitude of the bounded part of the noise, in deviations @param step  of the display, in deviations
   */
  threshold(control: 0 | 1, readings: number, allowed: number, swing = 0, step = 0): number {
    return this.#sides[control].threshold(readings, allowed, swing, step);
  }
}
