/** What a meter shows of itself while it is read: pace, count, noise, size of its display. Told beside what its profile says. Pure. */
import { Flag, type Reading } from '../../drivers/reading.ts';

/** Measured over the newest readings; unknown is null. */
export interface MeasuredHabits {
  /** Sample interval, s. */
  readonly interval: number | null;
  /** Value of one count, SI. */
  readonly resolution: number | null;
  /** Standard deviation of a reading, from the differences of neighbours, SI. */
  readonly noise: number | null;
  /** Largest number that the display has shown. */
  readonly largestShown: number | null;
}

/** Readings looked at, the newest. */
const LOOKED_AT = 64;
/** Fewer say nothing of noise. */
const LEAST = 16;

export class MeterHabits {
  #newest: readonly Reading[] = [];
  #largest = 0;

  push(readings: readonly Reading[]): void {
    const all = readings.length >= LOOKED_AT ? readings : [...this.#newest, ...readings];
    this.#newest = all.slice(-LOOKED_AT);
    for (const { value, resolution } of readings.slice(-LOOKED_AT)) {
      if (resolution > 0 && Number.isFinite(value)) this.#largest = Math.max(this.#largest, Math.round(Math.abs(value) / resolution));
    }
  }

  /** @param count  newest readings wanted, at most 64 */
  newest(count: number): readonly Reading[] {
    return this.#newest.slice(-count);
  }

  /** @param interval  as the session clock has measured it, s */
  measured(interval: number | null): MeasuredHabits {
    const last = this.#newest.at(-1);
    const resolution = last !== undefined && last.resolution > 0 ? last.resolution : null;
    return { interval, resolution, noise: last === undefined ? null : noiseOf(this.#newest, last), largestShown: this.#largest > 0 ? this.#largest : null };
  }
}

/** 1.4826 times the median difference of neighbours over root 2: neither a slow drift nor a few steps move it. Of one function and range only. */
function noiseOf(readings: readonly Reading[], last: Reading): number | null {
  const alike = readings.filter(({ quantity, coupling, resolution, value, flags }) => (
    quantity === last.quantity && coupling === last.coupling && Object.is(resolution, last.resolution) && Number.isFinite(value) && (flags & Flag.hold) === 0
  ));
  if (alike.length < LEAST) return null;
  const differences = alike.slice(1).map(({ value }, i) => Math.abs(value - (alike[i] as Reading).value)).sort((a, b) => a - b);
  const middle = differences[differences.length >> 1] as number;
  const floor = last.resolution > 0 ? last.resolution / Math.sqrt(12) : 0;
  return Math.max((1.4826 * middle) / Math.SQRT2, floor);
}
