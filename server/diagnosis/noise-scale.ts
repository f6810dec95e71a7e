/** How much a quiet reading scatters, robustly and with a long memory. */

/** Quiet readings remembered: a short memory makes the threshold flutter and false alarms multiply. */
const REMEMBERED = 512;
/** Median absolute value of a standard normal, inverted: 1 / 0.6745. */
const MAD_TO_DEVIATION = 1.4826022185056018;

/**
 * Noise s of quiet readings: 1.4826 times the median of |reading - level|, floored at q / sqrt(12), q the count size.
 * One in two readings may be anything without moving it by more than its own spread. Where the root mean square is smaller it
 * counts instead: hum and ripple are bounded, and their median overstates how far they reach (by 1.48 for a sine).
 */
export class NoiseScale {
  readonly #ring = new Float64Array(REMEMBERED);
  readonly #work = new Float64Array(REMEMBERED);
  #added = 0;
  #due = 4;
  #deviation = Number.NaN;
  #floor = 0;

  /** Quiet readings that the figure rests on, at most 512. */
  get readings(): number { return Math.min(this.#added, REMEMBERED); }
  /** Standard deviation, SI; NaN before four readings. Never below the floor. */
  get deviation(): number { return Math.max(this.#deviation, this.#floor); }
  /** As `deviation`, without the floor. */
  get unfloored(): number { return this.#deviation; }

  /** @param count  value of one count, SI; NaN or 0 when not known */
  setCount(count: number): void { this.#floor = count > 0 ? count / Math.sqrt(12) : 0; }

  /** The noise has changed: what was remembered no longer holds. */
  restart(): void {
    this.#added = 0;
    this.#due = 4;
  }

  /** @param residual  a quiet reading less its level, SI @returns true when the figure was renewed */
  add(residual: number): boolean {
    this.#ring[this.#added % REMEMBERED] = Math.abs(residual);
    this.#added++;
    if (this.#added < this.#due) return false;
    // At first after every few, later after every 128: the median of 512 moves slowly.
    this.#due = this.#added + Math.min(128, Math.max(1, this.#added >> 3));
    const n = this.readings;
    this.#work.set(this.#ring.subarray(0, n));
    let squares = 0;
    for (let i = 0; i < n; i++) squares += (this.#work[i] as number) ** 2;
    this.#deviation = Math.min(MAD_TO_DEVIATION * middleValue(this.#work, n), Math.sqrt(squares / n));
    return true;
  }

}

/** Middle value of the first n entries (the mean of the two middle ones when n is even); reorders them. Hoare's selection. */
export function middleValue(values: Float64Array, n: number): number {
  const upper = select(values, n, n >> 1);
  if (n % 2 === 1) return upper;
  let lower = -Infinity;
  for (let i = 0; i < n >> 1; i++) if ((values[i] as number) > lower) lower = values[i] as number;
  return (lower + upper) / 2;
}

function select(values: Float64Array, n: number, k: number): number {
  let left = 0;
  let right = n - 1;
  while (left < right) {
    const pivot = values[k] as number;
    let i = left;
    let j = right;
    do {
      while ((values[i] as number) < pivot) i++;
      while (pivot < (values[j] as number)) j--;
      if (i <= j) {
        const swap = values[i] as number;
        values[i] = values[j] as number;
        values[j] = swap;
        i++;
        j--;
      }
    } while (i <= j);
    if (j < k) left = i;
    if (k < i) right = j;
  }
  return values[k] as number;
}

/**
 * The factor on s that keeps the chance of a false alarm when s itself was estimated from few readings. The MAD of n normal
 * values scatters like a deviation with n / 2.72 degrees of freedom (its asymptotic relative variance is 1.361 / n), so the
 * normal quantile z becomes Student's, here by Wallace's approximation (1959).
 * @param z  normal quantile for the alarm budget
 * @param readings  quiet readings that s rests on
 * @returns z for many readings, at most four times z for few
 */
export function thresholdFactor(z: number, readings: number): number {
  const freedom = Math.max(1.5, readings / 2.72);
  const w = z / (1 - 3 / (4 * freedom));
  const exponent = (w * w) / freedom;
  return exponent > 40 ? 4 * z : Math.min(4 * z, Math.sqrt(freedom * Math.expm1(exponent)));
}
