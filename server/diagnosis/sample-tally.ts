/** What has come so far: how many readings of which sort, from when to when, in which function. */
import { fromFunctionCode } from '../../drivers/reading.ts';
import type { Coupling, Quantity } from '../../drivers/reading.ts';
import { expectedQuantities } from './check-traits.ts';
import type { CheckKind } from './judgement.ts';
import type { SampleColumns } from './samples.ts';

export class SampleTally {
  samples = 0;
  dataSamples = 0;
  /** Samples in a function that this check can't use. */
  foreignSamples = 0;
  huntSamples = 0;
  /** Readings close to the level. */
  quietReadings = 0;
  firstTime = Number.NaN;
  lastTime = Number.NaN;
  lastDataTime = Number.NaN;
  /** From the reading before the newest to it, s. */
  lastDifference = 0;
  quantity: Quantity | null = null;
  /** Function and flags of the newest reading that counts. */
  code = -1;
  flags = 0;
  /** Value of one count, SI; NaN when not known. */
  resolution = Number.NaN;
  /** Time lost in gaps, s. */
  gapTime = 0;
  /** Time without a usable reading at the moment began here (blank, hunting, held), s; NaN while readings come. */
  blankSince = Number.NaN;
  readonly #usable = new Set<number>();

  /** Coupling of the newest reading that counts. */
  get coupling(): Coupling { return this.code < 0 ? 'none' : fromFunctionCode(this.code).coupling; }
  /** Time from the first reading to the newest without gaps, s. */
  get watched(): number { return this.lastTime - this.firstTime - this.gapTime; }
  get isBlank(): boolean { return this.blankSince === this.blankSince; }

  /** Quiet readings `from` up to, not including, `to` (at least one). */
  skip({ time }: SampleColumns, from: number, to: number): void {
    const n = to - from;
    const last = time[to - 1] as number;
    this.lastDifference = last - (n > 1 ? (time[to - 2] as number) : this.lastTime);
    this.samples += n;
    this.dataSamples += n;
    this.quietReadings += n;
    this.lastTime = last;
    this.lastDataTime = last;
  }

  /** The same for one that is to be looked at. @param time  s */
  take(time: number): void {
    this.lastDifference = time - this.lastTime;
    this.samples++;
    this.dataSamples++;
    this.lastTime = time;
    this.lastDataTime = time;
  }

  /** Whether a sample comes without gap or change of range, function or flags. @param gapLimit  s */
  goesOn({ time, resolution, flags, functionCode }: SampleColumns, at: number, gapLimit: number): boolean {
    return (time[at] as number) - this.lastTime <= gapLimit && flags[at] === this.flags && functionCode[at] === this.code && resolution[at] === this.resolution;
  }

  /** No usable reading at `time`, s. */
  goBlank(time: number): void {
    if (!this.isBlank) this.blankSince = this.lastDataTime === this.lastDataTime ? this.lastDataTime : time;
  }

  /** @returns false for a function that this kind of check can't use */
  adoptFunction(code: number, kind: CheckKind): boolean {
    const { quantity } = fromFunctionCode(code);
    if (!this.#usable.has(code)) {
      const expected = expectedQuantities(kind);
      if (quantity !== 'unknown' && expected.length > 0 && !expected.includes(quantity)) return false;
      if (this.quantity !== null && this.quantity !== 'unknown' && quantity !== this.quantity) return false;
      this.quantity = quantity;
      this.#usable.add(code);
    }
    this.code = code;
    return true;
  }
}
