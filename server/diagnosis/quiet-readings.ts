/** Where quiet readings go: to the level, to what counts them, and to what remembers how far noise goes and what was read just before a departure. */
import type { DepartureWatch } from './departure-watch.ts';
import type { QuietLevel } from './quiet-level.ts';
import type { SampleColumns } from './samples.ts';
import type { SideExcursions } from './side-excursions.ts';
import type { WatchParts } from './watching.ts';

export class QuietReadings {
  readonly #parts: WatchParts;
  readonly #level: QuietLevel;
  readonly #departures: DepartureWatch;
  readonly #excursions: SideExcursions;

  constructor(parts: WatchParts, level: QuietLevel, departures: DepartureWatch, excursions: SideExcursions) {
    this.#parts = parts;
    this.#level = level;
    this.#departures = departures;
    this.#excursions = excursions;
  }

  /** Takes samples within `band` of the level, SI, up to the end of the block. @returns index of the first that needs a closer look */
  near(samples: SampleColumns, from: number, to: number, band: number): number {
    const { tally, ranges } = this.#parts;
    const next = this.#level.skip(samples, from, to, tally, band);
    if (next === from) return from;
    tally.skip(samples, from, next);
    ranges.skip(next - from);
    this.#departures.keepLastOf(samples, from, next);
    return next;
  }

  /** Takes a sample that is far from the level, but no departure, where nothing has left it just before. @returns false for one that needs a closer look */
  far(samples: SampleColumns, at: number, isOnPlateau: boolean): boolean {
    const { tally, ranges, threshold: { entry }, pace } = this.#parts;
    if (pace.isNew(tally.dataSamples) || !tally.goesOn(samples, at, pace.gapLimit)) return false;
    const time = samples.time[at] as number;
    const value = samples.value[at] as number;
    const change = value - this.#level.predict(time);
    if (!(Math.abs(change) <= entry)) return false;
    tally.take(time);
    ranges.add(samples.resolution[at] as number);
    this.add(time, value, change, isOnPlateau);
    return true;
  }

  /** Takes a reading that was looked at. Time in s, value and its change from the level in SI. */
  add(time: number, value: number, change: number, isOnPlateau: boolean): void {
    if (Math.abs(change) > this.#excursions.least && this.showsNoise(change, isOnPlateau)) this.#excursions.note(time, change);
    this.#departures.keepLast(time, value);
    this.teach(time, change);
  }

  /** Says what the level is, and no more. */
  teach(time: number, change: number): void {
    this.#level.add(time, change, this.#parts.threshold.band);
    this.#parts.tally.quietReadings++;
  }

  /** False where the level itself may be off: just found, or on a plateau, from which the good way leads back. */
  showsNoise(change: number, isOnPlateau: boolean): boolean { return this.#level.isKnown && !(isOnPlateau && this.#parts.threshold.direction * change < 0); }
}
