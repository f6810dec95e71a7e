/**
 * How far noise alone reaches, learned from the signal. A dropout can only move the reading one way; what the reading does the
 * other way is noise, so its excursions there say how high the threshold must be. Where both ways are bad, the calmer one is asked.
 */

/** Excursions are counted from here up, in noise deviations, in classes of this ratio. */
const FIRST = 3;
const RATIO = 1.05;
const BINS = 144;
/** Excursions from which the far end of the tail is taken, and how many times as many for its near end. */
const ENOUGH = 20;
const NEAR = 5;
/** Power-law index when too few excursions tell a shape: that of Student's t with four degrees of freedom. */
const ASSUMED_INDEX = 0.25;
/** The fitted tail is trusted this far and no further. */
const SAFETY = 1.1;
const OUTLIER = 1.5;
/** By its making, a quarter of all quiet readings lie beyond 0.6745 deviations on one side. */
const BODY = { size: 0.6745, chance: 0.25 };

/** Excursions, in classes of their peak; sizes in noise deviations. */
class Excursions {
  readonly #counts = new Float64Array(BINS);
  #largest = 0;
  total = 0;

  add(peak: number): void {
    const bin = Math.min(BINS - 1, Math.floor(Math.log(peak / FIRST) / Math.log(RATIO)));
    if (bin < 0) return;
    this.#counts[bin] = (this.#counts[bin] as number) + 1;
    this.total++;
    if (peak > this.#largest) this.#largest = peak;
  }

  #beyond(size: number): number {
    let above = 0;
    for (let bin = BINS - 1; bin >= 0 && FIRST * RATIO ** bin > size; bin--) above += this.#counts[bin] as number;
    return above;
  }

  /**
   * Threshold that lets through the number of false alarms allowed so far, in noise deviations; 0 when nothing clearly beyond
   * Gaussian noise was seen.
   *
   * The tail is taken as exp(-(x / a)^b), which fits normal noise (b near 2), exponential noise (1) and heavier (below 1), drawn through the
   * size that twenty excursions exceed and the size that a hundred do. Fewer than twenty tell no shape: a power law through them.
   * @param readings  quiet readings watched
   * @param allowed  false alarms that the budget allows in them
   */
  threshold(readings: number, allowed: number): number {
    let above = 0;
    let few = 0;
    let far = { size: 0, chance: 1 };
    let near = BODY;
    for (let bin = BINS - 1; bin >= 0; bin--) {
      const count = this.#counts[bin] as number;
      if (count === 0) continue;
      above += count;
      const size = FIRST * RATIO ** bin;
      if (far.size === 0) {
        const expected = readings * gaussianTail(size);
        if (above <= 3 * expected + 4 * Math.sqrt(expected) + 0.05) continue;
        few = Math.max(few, size * Math.max(1, above / allowed) ** ASSUMED_INDEX);
        if (above >= ENOUGH) far = { size, chance: above / readings };
      } else if (above >= NEAR * far.chance * readings) {
        near = { size, chance: above / readings };
        break;
      }
    }
    if (far.size === 0) return few;
    const exponent = Math.log(Math.log(far.chance) / Math.log(near.chance)) / Math.log(far.size / near.size);
    const wanted = Math.min(far.chance, allowed / readings);
    const fitted = SAFETY * far.size * (Math.log(wanted) / Math.log(far.chance)) ** (1 / exponent);
    // One that the fit calls all but impossible came from something else, and may come again, larger.
    return this.#beyond(fitted) > 2 * allowed ? Math.max(fitted, OUTLIER * this.#largest) : fitted;
  }
}

/** Upper tail of the standard normal, within 1 % from 3 up (first terms of the asymptotic series). */
function gaussianTail(u: number): number {
  return (Math.exp((-u * u) / 2) / (u * Math.sqrt(2 * Math.PI))) * (1 - 1 / (u * u) + 3 / u ** 4);
}

export class TailLearner {
  readonly #sides = [new Excursions(), new Excursions()] as const;

  /** Excursions seen on both sides. */
  get total(): number { return this.#sides[0].total + this.#sides[1].total; }

  /** @param side  0 below, 1 above the level @param peak  farthest reading of the excursion, in noise deviations */
  add(side: 0 | 1, peak: number): void { if (peak > FIRST) this.#sides[side].add(peak); }

  /**
   * Threshold learned, in noise deviations; 0 when the noise looks Gaussian.
   * @param control  side on which only noise can appear; null when both are bad, and then the calmer one counts
   */
  threshold(control: 0 | 1 | null, readings: number, allowed: number): number {
    if (control !== null) return this.#sides[control].threshold(readings, allowed);
    return Math.min(this.#sides[0].threshold(readings, allowed), this.#sides[1].threshold(readings, allowed));
  }
}
