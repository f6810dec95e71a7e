/** The first readings, from which level and noise are learned. */
import { middleValue } from './noise-scale.ts';
import type { NoiseScale } from './noise-scale.ts';

const READINGS = 8;

interface Reading { readonly time: number; readonly value: number; readonly over: boolean }

export class FirstLook {
  readonly readings: Reading[] = [];

  add(time: number, value: number, over: boolean): void { this.readings.push({ time, value, over }); }

  get isFull(): boolean { return this.readings.length >= READINGS; }
  get #known(): number[] { return this.readings.filter((reading) => !reading.over).map(({ value }) => value); }
  /** At least half of them are over-range. */
  get isOverRange(): boolean { return this.#known.length <= this.readings.length / 2; }

  /** Middle of the readings that are not over-range, SI; NaN without any. */
  get level(): number {
    const known = this.#known;
    return known.length === 0 ? Number.NaN : middleValue(Float64Array.from(known), known.length);
  }

  /** Noise from neighbouring readings, whatever the trend. */
  teach(noise: NoiseScale): void {
    const known = this.#known;
    for (let i = 1; i < known.length; i++) noise.add(((known[i] as number) - (known[i - 1] as number)) / Math.SQRT2);
  }
}
