/**
 * The departure under way, the one before it that has returned, and their merging.
 *
 *   (quiet) -> away -> returned -> (merge time) -> filed as dropout or sag
 *                          \-> away again, joined with the one before when it returns
 */
import { Departure, QUIET_AROUND } from './departure.ts';
import type { EntryThreshold } from './entry-threshold.ts';
import type { EventLog } from './event-log.ts';
import { middleValue } from './noise-scale.ts';
import type { NoiseScale } from './noise-scale.ts';
import type { Pace } from './pace.ts';
import type { RangeWatch } from './range-watch.ts';
import type { SampleColumns } from './samples.ts';
import type { SteadinessWatch } from './steadiness.ts';

/** Newest readings away from the level that are remembered, for what the signal reads there. */
const RECENT = 5;

export interface DepartureWatchParts {
  readonly pace: Pace;
  readonly noise: Pick<NoiseScale, 'deviation' | 'moment'>;
  readonly threshold: Pick<EntryThreshold, 'entry' | 'direction'>;
  readonly ranges: RangeWatch;
  /** Where what has returned, and can't be merged any more, goes. */
  readonly events: Pick<EventLog, 'file'>;
  readonly steadiness: SteadinessWatch;
}

export class DepartureWatch {
  readonly #parts: DepartureWatchParts;
  /** Away from the level and not back yet. */
  away: Departure | null = null;
  #returned: Departure | null = null;
  /** The departure that the one under way will be merged with when it returns. */
  #joined: Departure | null = null;
  #recent: number[] = [];
  /** What came back in the last moments, oldest first. */
  readonly #justBack: Departure[] = [];
  #lastOpposite = { time: Number.NaN, size: 0 };
  /** The newest quiet readings, for the length of the dropout that may follow. */
  readonly #lastTimes = new Float64Array(QUIET_AROUND);
  readonly #lastValues = new Float64Array(QUIET_AROUND).fill(Number.NaN);
  #lastAt = 0;

  constructor(parts: DepartureWatchParts) { this.#parts = parts; }

  /** A departure that has returned. */
  get returned(): Departure | null { return this.#returned; }
  /** A departure that has returned and may still be merged with the next, or with the one under way. */
  get pending(): Departure | null { return this.#returned ?? this.#joined; }
  /** The newest readings away from the level, SI; infinite for over-range. */
  get recent(): readonly number[] { return this.#recent; }
  /** Value of the newest readings away from the level, SI; infinite when over-range, NaN without any. */
  get awayValue(): number { return this.#recent.length === 0 ? Number.NaN : middleValue(Float64Array.from(this.#recent), this.#recent.length); }

  /** @returns the departure that begins @param level  that it leaves, SI; NaN when that is over-range @param size  of `change` in the bad direction, SI; infinite for over-range */
  depart(time: number, value: number, change: number, size: number, over: boolean, level: number): Departure {
    const { noise, threshold, ranges, steadiness, pace } = this.#parts;
    this.#joined = this.#returned;
    this.#returned = null;
    const away = new Departure(time, level, noise.deviation, threshold.entry, this.#quietBefore(level));
    if (time - this.#lastOpposite.time <= pace.mergeTime) away.opposite = Math.max(away.opposite, this.#lastOpposite.size);
    this.away = away;
    this.#recent = [];
    away.rangeBefore = ranges.settledBefore;
    this.add(away, time, value, change, size, over);
    steadiness.break();
    return away;
  }

  /** One more reading away from the level. */
  add(away: Departure, time: number, value: number, change: number, size: number, over: boolean): void {
    away.add(time, change, size, over);
    this.#recent.push(over ? Infinity : value);
    if (this.#recent.length > RECENT) this.#recent.shift();
  }

  /** @returns the departure that has come back, with those merged into it */
  comeBack(away: Departure): Departure {
    const joined = this.#joined;
    this.away = null;
    this.#joined = null;
    joined?.merge(away);
    this.#returned = joined ?? away;
    if (!this.#justBack.includes(this.#returned)) this.#justBack.push(this.#returned);
    return this.#returned;
  }

  /** The noise as it is at `time` is known: where it grew just as a departure seemed to begin, that counts. */
  settleNoise(time: number): void {
    const justBack = this.#justBack;
    if (justBack.length === 0) return;
    const { deviation, moment } = this.#parts.noise;
    let still = 0;
    for (const departure of justBack) {
      departure.noiseAround = Math.max(departure.noiseAround, deviation);
      if (time <= departure.last + moment) justBack[still++] = departure;
    }
    justBack.length = still;
  }

  /** The departure under way turned out to be something else: the one before it stands for itself. */
  abandon(): void {
    const joined = this.#joined;
    this.away = null;
    this.#joined = null;
    if (joined !== null) this.#parts.events.file(joined);
  }

  /** Goes on with what another watch has under way. */
  takeOver(other: DepartureWatch): void {
    this.away = other.away;
    this.#returned = other.#returned;
    this.#joined = other.#joined;
    this.#recent = other.#recent;
  }

  /** Files what has returned once nothing can be merged with it any more. */
  fileBefore(time: number): void {
    if (this.#returned !== null && time - this.#returned.last > this.#parts.pace.mergeTime) this.fileReturned();
  }

  /** @returns index of the first of the samples at which `fileBefore` would file something; `to` without any */
  fileIndex({ time }: SampleColumns, from: number, to: number): number {
    if (this.#returned === null) return to;
    const { last } = this.#returned;
    const { mergeTime } = this.#parts.pace;
    let before = from;
    let after = to;
    while (before < after) {
      const middle = (before + after) >> 1;
      if ((time[middle] as number) - last > mergeTime) after = middle;
      else before = middle + 1;
    }
    return after;
  }

  fileReturned(): void {
    const returned = this.#returned;
    this.#returned = null;
    if (returned !== null) this.#parts.events.file(returned);
  }

  /** An excursion the good way: what is near it is interference, which goes both ways. @param size  SI, positive */
  noteOpposite(time: number, size: number): void {
    const last = this.#lastOpposite;
    this.#lastOpposite = { time, size: time - last.time <= this.#parts.pace.mergeTime ? Math.max(size, last.size) : size };
    if (this.#returned !== null) this.#returned.opposite = Math.max(this.#returned.opposite, size);
  }

  /** What went the good way has stayed there. */
  forgetOpposite(): void { this.#lastOpposite = { time: Number.NaN, size: 0 }; }

  /** A quiet reading. */
  keepLast(time: number, value: number): void {
    const at = this.#lastAt;
    this.#lastTimes[at] = time;
    this.#lastValues[at] = value;
    this.#lastAt = at + 1 === QUIET_AROUND ? 0 : at + 1;
  }

  /** Quiet readings `from` up to, not including, `to`. */
  keepLastOf({ time, value }: SampleColumns, from: number, to: number): void {
    const first = to - QUIET_AROUND;
    if (first < from) {
      for (let k = from; k < to; k++) this.keepLast(time[k] as number, value[k] as number);
      return;
    }
    this.#lastAt = 0;
    for (let k = 0; k < QUIET_AROUND; k++) {
      this.#lastTimes[k] = time[first + k] as number;
      this.#lastValues[k] = value[first + k] as number;
    }
  }

  #quietBefore(level: number): { ends: number[]; sizes: number[] } {
    const { direction } = this.#parts.threshold;
    const sign = direction === 0 ? 1 : direction;
    const ends: number[] = [];
    const sizes: number[] = [];
    for (let k = 0; k < QUIET_AROUND; k++) {
      const at = (this.#lastAt + k) % QUIET_AROUND;
      const value = this.#lastValues[at] as number;
      if (value !== value) continue;
      ends.push(this.#lastTimes[at] as number);
      sizes.push(sign * (value - level));
    }
    return { ends, sizes };
  }
}
