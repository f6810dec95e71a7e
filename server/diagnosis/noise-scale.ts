/** How much a quiet reading scatters, robustly and with a long memory. */

/** Quiet readings remembered: a short memory makes the threshold flutter and false alarms multiply. */
const REMEMBERED = 512;
/** Median absolute value of a standard normal, inverted: 1 / 0.6745. */
const MAD_TO_DEVIATION = 1.4826022185056018;

/** Readings farther than this, in robust deviations, count as if they were there; what that takes from normal noise is given back. */
const CLIP = 2.5;
/** A count and a half in units of q / sqrt(12): a display that changes by one count is never clipped. */
const COUNT_AND_A_HALF = 5.2;
/** Square root of E[min(|x|, 2.5)^2] for a standard normal x. */
const CLIPPED_DEVIATION = 0.98872;
/** Relative variance of that deviation over n normal values, times 2 n: 1 for the plain deviation, 2.72 for the MAD. */
const CLIPPED_COST = 1.05;
/** Readings, and time in s, over which the noise of the moment is felt: the longer of the two. */
const MOMENT = 24;
const MOMENT_TIME = 0.1;
/** The noise of the moment counts when it is so many times the remembered one: less may be chance. */
const RISEN = 1.5;
/** So many readings remembered while it does show that it is no burst: what was before holds no more. */
const HAS_CHANGED = 64;
/** Readings over which the shape of the noise is averaged. */
const SHAPE_MEMORY = 4096;
/** Standard errors by which the kurtosis must fall short of the normal one. */
const SURE = 3;

/**
 * Noise s of quiet readings: the root mean square with readings beyond 2.5 robust deviations (1.4826 MAD) clipped there, floored
 * at q / sqrt(12), q the count size. One in two readings may be anything without moving it far.
 *
 * Hum and ripple are bounded: they reach 1.41 deviations and no further, where normal noise of the same deviation reaches five. Their
 * part is known from the kurtosis, and `reach` says how far both together go.
 */
export class NoiseScale {
  readonly #ring = new Float64Array(REMEMBERED);
  readonly #work = new Float64Array(REMEMBERED);
  #added = 0;
  #due = 4;
  #deviation = Number.NaN;
  #floor = 0;
  /** Means of the second and fourth power of what was added, in deviations, and over how many. */
  #square = 1;
  #fourth = 3;
  #shaped = 0;
  #swing = 0;
  /** Readings remembered since the noise of the moment rose. */
  #risen = 0;
  /** Mean square over the moment, SI; NaN before the first reading. */
  #moment = Number.NaN;
  #momentReadings = MOMENT;
  /** Time after which the noise of the moment is known, s. */
  moment = MOMENT_TIME;
  #effective = Number.NaN;

  /** Quiet readings that the figure rests on, at most 512. */
  get readings(): number { return Math.min(this.#added, REMEMBERED); }
  /** Standard deviation, SI; NaN before four readings. Never below the floor; while the noise of the moment is clearly larger, that. */
  get deviation(): number { return this.#effective; }
  /** The noise of the moment is clearly larger than the remembered one, as in a burst of interference. */
  get hasRisen(): boolean { return this.#effective > Math.max(this.#deviation, this.#floor); }
  /** As `deviation`, without the floor. */
  get unfloored(): number { return this.#deviation; }
  /** Amplitude of the bounded part, a sine, in deviations: 0 for normal and for heavier noise, at most 1.414. */
  get swing(): number { return this.hasRisen ? 0 : this.#swing; }

  /** Mean square over the moment, SI; NaN before the first reading. What turns out to be no noise may be taken back. */
  get felt(): number { return this.#moment; }
  set felt(square: number) {
    this.#moment = square;
    this.#settle();
  }

  /** How far noise goes that would go to z deviations if it were normal, in deviations. */
  reach(z: number): number { return reachOf(this.swing, z); }

  /** @param count  value of one count, SI; NaN or 0 when not known */
  setCount(count: number): void {
    this.#floor = count > 0 ? count / Math.sqrt(12) : 0;
    this.#settle();
  }

  /** @param interval  s */
  setInterval(interval: number): void {
    this.#momentReadings = Math.max(MOMENT, MOMENT_TIME / interval);
    this.moment = this.#momentReadings * interval;
  }

  /**
   * What readings are now, besides what is remembered. One that is far off counts no more than one 2.5 deviations off, so that it takes
   * several in a row to show that the noise has risen.
   * @param square  mean square of readings less their level, SI, none of them on the way of a dropout @param n  how many
   */
  feel(square: number, n: number): void {
    const usual = Math.max(this.#deviation, this.#floor) ** 2;
    if (!(usual > 0)) return;
    if (!(this.#moment > 0)) this.#moment = usual;
    const kept = Math.min(square, CLIP * CLIP * Math.max(usual, this.#moment));
    this.#moment += (kept - this.#moment) * (n / (this.#momentReadings + n - 1));
    this.#settle();
  }

  #settle(): void {
    const usual = Math.max(this.#deviation, this.#floor);
    this.#effective = this.#moment > (RISEN * usual) ** 2 ? Math.sqrt(this.#moment) : usual;
  }

  /** The noise has changed: what was remembered no longer holds. */
  restart(): void {
    this.#added = 0;
    this.#due = 4;
    this.#shaped = 0;
    this.#swing = 0;
    this.#moment = Number.NaN;
    this.#settle();
  }

  /** @param residual  a quiet reading less its level, SI @returns true when the figure was renewed */
  add(residual: number): boolean {
    this.#risen = this.hasRisen ? this.#risen + 1 : 0;
    if (this.#risen > HAS_CHANGED) this.#forgetBefore(HAS_CHANGED);
    this.#ring[this.#added % REMEMBERED] = Math.abs(residual);
    this.#added++;
    if (this.#deviation > 0 && this.#added > FIRST_SHAPED) this.#addShape((residual / this.#deviation) ** 2);
    if (this.#added < this.#due) return false;
    // At first after every few, later after every 128: the figure of 512 moves slowly.
    this.#due = this.#added + Math.min(128, Math.max(1, this.#added >> 3));
    const n = this.readings;
    this.#work.set(this.#ring);
    const clip = Math.max(CLIP * MAD_TO_DEVIATION * middleValue(this.#work, n), COUNT_AND_A_HALF * this.#floor) ** 2;
    let squares = 0;
    for (let i = 0; i < n; i++) squares += Math.min(clip, (this.#work[i] as number) ** 2);
    this.#deviation = Math.sqrt(squares / n) / CLIPPED_DEVIATION;
    this.#swing = this.#shaped < REMEMBERED / 2 ? 0 : swingOf(this.#fourth / this.#square ** 2 - 3 + SURE * Math.sqrt(24 / Math.min(this.#shaped, SHAPE_MEMORY)));
    this.#settle();
    return true;
  }

  /** Only the newest `n` readings hold. */
  #forgetBefore(n: number): void {
    for (let i = 0; i < n; i++) this.#work[i] = this.#ring[(this.#added - n + i) % REMEMBERED] as number;
    this.#ring.set(this.#work.subarray(0, n));
    this.#added = n;
    this.#due = n;
    this.#risen = 0;
    this.#shaped = 0;
    this.#swing = 0;
  }

  #addShape(square: number): void {
    this.#shaped++;
    const weight = 1 / Math.min(this.#shaped, SHAPE_MEMORY);
    this.#square += weight * (square - this.#square);
    this.#fourth += weight * (square * square - this.#fourth);
  }
}

/** Readings after which the deviation is known well enough to look at the shape. */
const FIRST_SHAPED = 64;

/**
 * Amplitude, in deviations, of the sine in a sum of sine and normal noise with this excess kurtosis: a sine of amplitude A has the fourth
 * cumulant -3/8 A^4, normal noise none, so A^4 = -8/3 excess.
 */
function swingOf(excess: number): number { return excess < 0 ? (-8 / 3 * Math.max(-1.5, excess)) ** 0.25 : 0; }

/** The sine's amplitude and z deviations of what normal noise is left: never more than z. */
function reachOf(swing: number, z: number): number { return Math.min(z, swing + z * restOf(swing)); }

/** The other way round: the z at which noise with this swing reaches `size`. */
export function normalOf(swing: number, size: number): number { return Math.max(size, (size - swing) / restOf(swing)); }

/** Deviation of what a sine of this amplitude leaves of noise of deviation 1. */
function restOf(swing: number): number { return Math.sqrt(Math.max(1e-4, 1 - swing * swing / 2)); }

/** Middle value of the first n entries (the mean of the two middle ones when n is even); reorders them. */
export function middleValue(values: Float64Array, n: number): number {
  const upper = inOrder(values, n, n >> 1);
  if (n % 2 === 1) return upper;
  let lower = -Infinity;
  for (let i = 0; i < n >> 1; i++) if ((values[i] as number) > lower) lower = values[i] as number;
  return (lower + upper) / 2;
}

/** Places that hold no less, and no more, than one entry. */
const notLess = new Int16Array(REMEMBERED + 1);
const notMore = new Int16Array(REMEMBERED + 1);

/**
 * What stands at place k (from 0) of the first n entries (at most 512) in rising order; reorders them. Hoare's selection. What is to be
 * swapped is listed first: how a comparison comes out can't be foreseen, and a wrong guess would cost more than all the rest.
 */
export function inOrder(values: Float64Array, n: number, k: number): number {
  let left = 0;
  let right = n - 1;
  while (left < right) {
    const pivot = values[k] as number;
    let up = 0;
    let down = 0;
    notMore[down++] = left - 1;
    for (let at = left; at <= right; at++) {
      const value = values[at] as number;
      notLess[up] = at;
      notMore[down] = at;
      up = (up + Number(value >= pivot)) | 0;
      down = (down + Number(value <= pivot)) | 0;
    }
    notLess[up] = right + 1;
    // From both ends until they meet.
    up = 0;
    down--;
    let below = left - 1;
    let above = right + 1;
    while ((notLess[up] as number) < (notMore[down] as number)) {
      below = notLess[up++] as number;
      above = notMore[down--] as number;
      const swap = values[below] as number;
      values[below] = values[above] as number;
      values[above] = swap;
    }
    if (notLess[up] === notMore[down]) {
      below = (notLess[up] as number) - 1;
      above = below + 2;
    } else {
      below = Math.max(below, notMore[down] as number);
      above = Math.min(above, notLess[up] as number);
    }
    if (below < k) left = above;
    if (k < above) right = below;
  }
  return values[k] as number;
}

/**
 * The factor on s that keeps the chance of a false alarm when s itself was estimated from few readings: the clipped root mean square
 * of n normal values scatters like a deviation with n / 1.05 degrees of freedom, so the normal quantile z becomes Student's, here
 * by Wallace's approximation (1959).
 * @param z  normal quantile for the alarm budget
 * @param readings  quiet readings that s rests on
 * @returns z for many readings, at most four times z for few
 */
export function thresholdFactor(z: number, readings: number): number {
  const freedom = Math.max(1.5, readings / CLIPPED_COST);
  const w = z / (1 - 3 / (4 * freedom));
  const exponent = (w * w) / freedom;
  return exponent > 40 ? 4 * z : Math.min(4 * z, Math.sqrt(freedom * Math.expm1(exponent)));
}
