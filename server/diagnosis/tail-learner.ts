/**
 * How far noise alone reaches, learned from the signal. A dropout can only move the reading one way; what the reading does the
 * other way is noise, so its excursions there say how high the threshold must be. Where both ways are bad, the calmer one is asked.
 */

/** Excursions are counted from here up, in noise deviations. */
const FIRST = 3;
const RATIO = 1.15;
const BINS = 48;
/** Excursions that tell the shape of the tail. */
const ENOUGH = 20;

/** Excursions, in classes of their peak; sizes in noise deviations. */
class Excursions {
  readonly #counts = new Float64Array(BINS);
  total = 0;

  add(peak: number): void {
    const bin = Math.min(BINS - 1, Math.floor(Math.log(peak / FIRST) / Math.log(RATIO)));
    if (bin < 0) return;
    this.#counts[bin] = (this.#counts[bin] as number) + 1;
    this.total++;
  }

  /**
   * Threshold that lets through the number of false alarms allowed so far, in noise deviations; 0 when nothing clearly beyond
   * Gaussian noise was seen.
   *
   * Beyond u the tail is taken as a power law with Hill's index over the k excursions above u, drawn towards 1/4 with the
   * weight of two: threshold = u (k / allowed)^index. Asked at the highest u that has twenty excursions above it: a bounded
   * disturbance (ripple, hum) shows there that it ends. With fewer in all, at the lowest u where more was seen than expected.
   * @param readings  quiet readings watched
   * @param allowed  false alarms that the budget allows in them
   */
  threshold(readings: number, allowed: number): number {
    let above = 0;
    let logs = 0;
    let found = 0;
    for (let bin = BINS - 1; bin >= 0; bin--) {
      const count = this.#counts[bin] as number;
      if (count === 0) continue;
      // An excursion stands for the middle of its class.
      logs += count * (bin + 0.5);
      above += count;
      const u = FIRST * RATIO ** bin;
      const expected = readings * gaussianTail(u);
      if (above <= 3 * expected + 4 * Math.sqrt(expected) + 0.05) continue;
      const hill = Math.log(RATIO) * (logs - above * bin);
      const index = (0.5 + hill) / (2 + above);
      found = u * Math.max(1, above / allowed) ** index;
      if (above >= ENOUGH) return found;
    }
    return found;
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
