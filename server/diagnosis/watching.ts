/** What the ways of watching a take have in common: beside a level, a moving sensor, or leads held by hand. */
import type { Departure } from './departure.ts';
import type { EntryThreshold } from './entry-threshold.ts';
import type { EventLog } from './event-log.ts';
import type { JudgeSetup } from './judgement.ts';
import type { NoiseScale } from './noise-scale.ts';
import type { Pace } from './pace.ts';
import type { RangeWatch } from './range-watch.ts';
import type { SampleTally } from './sample-tally.ts';
import type { SteadinessWatch } from './steadiness.ts';
import type { TailLearner } from './tail-learner.ts';

/** Away for longer than this is a shift when nobody says, s (definitions). */
const SHIFT_AFTER = 10;

/** What a way of watching works with. */
export interface WatchParts {
  readonly setup: JudgeSetup;
  readonly tally: SampleTally;
  readonly pace: Pace;
  readonly noise: NoiseScale;
  readonly tail: TailLearner;
  readonly threshold: EntryThreshold;
  readonly ranges: RangeWatch;
  readonly events: EventLog;
  readonly steadiness: SteadinessWatch;
}

export interface Watching {
  /** Level now, SI; NaN before anything was learned, and when it is over-range. */
  readonly level: number;
  readonly isOverRange: boolean;
  readonly isLearning: boolean;
  /** The departure under way: away from the level and not back yet. */
  readonly away: Departure | null;
  /** Value of the newest readings away from the level, SI; infinite when over-range, NaN without any. */
  readonly awayValue: number;
  /** A departure that has returned and may still be merged with the next. */
  readonly pending: Departure | null;
  /** What has left the plateau of the departure under way and returned to it: departures of their own, should the plateau last. */
  readonly onTrial: readonly Departure[];
  /** A shallow plateau under way. */
  readonly plateau: { readonly start: number; readonly from: number; readonly change: number } | null;
  /** One reading that counts. Time in s, value in SI. */
  watch(time: number, value: number, over: boolean): void;
  /** A blank display ends at over-range: if that is a departure, it began at `time`, s. @returns false when it is none */
  openAt(time: number): boolean;
  /** Readings were lost until `time`, s. */
  pause(time: number): void;
  /** The count has changed. */
  renewThreshold(): void;
}

export function shiftAfter(setup: JudgeSetup): number { return setup.shiftAfter ?? SHIFT_AFTER; }
