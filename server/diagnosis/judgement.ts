/** What is judged and what comes out: the types shared by live screen, recording, file and command line. Pure. */
import type { Coupling, Quantity } from '../../drivers/reading.ts';

import type { CoincidenceReport } from './coincidence.ts';
import type { Sight } from './sight.ts';

/** Kinds of check, written as in files and on the command line. */
export const CHECK_KINDS = [
  'supply', 'switched-supply', 'ground', 'fuse', 'short-to-ground', 'short-to-supply', 'short-between', 'continuity',
  'voltage-drop', 'resistance', 'current', 'sensor-sweep',
] as const;
export type CheckKind = (typeof CHECK_KINDS)[number];

/** How a take is watched. Dropouts are judged only in wiggle and road takes, where the leads are declared fixed. */
export const WATCHINGS = ['spot', 'wiggle', 'road'] as const;
export type Watching = (typeof WATCHINGS)[number];

export type Verdict = 'pass' | 'fail' | 'intermittent' | 'undecided';
export type LevelVerdict = 'pass' | 'fail' | 'undecided';

/** Limits in SI; null where there is none on that side. */
export interface Limits {
  readonly low: number | null;
  readonly high: number | null;
}

export interface Accuracy {
  /** Of the reading: 0.005 for 0.5 %. */
  readonly fraction: number;
  /** Times the resolution. */
  readonly counts: number;
  /** Nobody looked it up: the user accepts it as good enough. Missing: from the manual. */
  readonly isAssumed?: boolean;
}

/** Accuracy of one function of a meter, or of one range of it, as a line of its manual. */
export interface RangeAccuracy {
  readonly quantity: Quantity;
  /** null: for every coupling. */
  readonly coupling: Coupling | null;
  /** Full scale of the range, SI; null: for every range of the function. */
  readonly upTo: number | null;
  /** Of the reading: 0.005 for 0.5 %. */
  readonly fraction: number;
  /** Times the resolution. */
  readonly counts: number;
}

/** What has to be known to judge a take. Unknown is null. */
export interface JudgeSetup {
  readonly kind: CheckKind;
  readonly watching: Watching;
  readonly limits: Limits;
  /** Declared sample interval, s; measured when null. */
  readonly interval: number | null;
  /** Aperture, s. */
  readonly aperture: number | null;
  /** On every range that has no line of its own in `ranges`. */
  readonly accuracy: Accuracy | null;
  /** Accuracy by function and range; missing: none has its own. */
  readonly ranges?: readonly RangeAccuracy[];
  /** Largest number that the display shows, e.g. 6000: tells which range is in use. Null or missing: not known. */
  readonly displayCounts?: number | null;
  /** Subtracted from ohms readings, ohm. */
  readonly leadOhms: number | null;
  /** Shallowest plateau that counts as a dropout, SI; null for the default of definitions (5 % of a voltage level, 1 ohm). */
  readonly depth: number | null;
  /** Away for longer than this is a shift, s; null for the default of 10. */
  readonly shiftAfter: number | null;
  /** The load or state that the check asks for was not present: the verdict stays undecided and says this. */
  readonly missingCondition: string | null;
  /** What a clean take must show before it passes; null for the default of the way of watching. */
  readonly claim: Claim | null;
  /** What feeds and loads the circuit where the leads are; null or missing when not known. */
  readonly load?: CheckLoad | null;
  /** Nominal voltage of the system, V: what an open lifts a reading on the ground side to. Missing: 12. */
  readonly supply?: number;
}

/** What a voltage is read under. */
export interface CheckLoad {
  /** Volts of the battery over the current that flows there, ohm. */
  readonly ohms: number;
  /** Of the battery, V. */
  readonly volts: number;
}

/** Wiggle: at most `rate` dropouts per flex; or per flexed second; road: per hour. All at 95 % confidence. */
export interface Claim {
  readonly per: 'flex' | 'second' | 'hour';
  readonly rate: number;
  /** Length of dropout that the claim is about, s. */
  readonly length: number;
}

/** A claim, and how far the take supports it. Exposure in flexes, flexed seconds or hours, limits per one of them. */
export interface ClaimMade extends Claim {
  /** Chance that the take would have caught a full dropout of `length`, at whatever moment of it; the lowest that fits what was shown. Missing in judgements of before. */
  readonly catchChance?: number;
  /** The highest that fits, where a coarse display leaves it open. */
  readonly catchChanceAtMost?: number;
  readonly exposure: number;
  /** Highest rate still believable, at 95 %; null when nothing is known. */
  readonly limit: number | null;
  /** Exposure still needed without a further dropout; 0 when met, null when no amount will do. */
  readonly needed: number | null;
  readonly isMet: boolean;
}

/** What the operator did that the samples do not show. */
export interface Exposure {
  readonly flexes: number;
  readonly flexedTime: number;
}

/** How sure the word on the level is. */
export interface LevelDoubt {
  /** Half-width of the interval that holds the true value with 95 %, SI. */
  readonly uncertainty: number;
  /** Chance that the true value lies within the limits. */
  readonly insideChance: number;
  /** Chance that the pass or fail of the level is wrong; null when it is undecided. */
  readonly wrongChance: number | null;
  /** What would decide an undecided level, each by itself, simplest first. */
  readonly remedies: readonly string[];
}

export interface SteadyReading { readonly start: number; readonly end: number; readonly value: number; readonly spread: number }
export interface DurationEstimate { readonly estimate: number | null; readonly low: number | null; readonly high: number | null }
export interface Dropout {
  readonly start: number;
  readonly end: number;
  /** Departures merged into this one. */
  readonly count: number;
  /** Largest departure from the level, SI, signed; null when over-range. */
  readonly depth: number | null;
  readonly overRange: boolean;
  readonly duration: DurationEstimate;
  /** Level that it left, SI; null when that was over-range, absent when not known. */
  readonly level?: number | null;
}
export interface Sag { readonly start: number; readonly end: number; readonly depth: number | null }
export interface Shift { readonly at: number; readonly from: number | null; readonly to: number | null }
export interface Gap { readonly start: number; readonly end: number }

/** What several meters on one circuit say together. */
export interface BreakFinding extends CoincidenceReport {
  /** Their names, by the points that they watch; the judged one first. */
  readonly meters: readonly string[];
  /** What it comes to, in a sentence or two. */
  readonly message: string;
}

/** Everything known of a take so far. Times in s on the clock of the samples; values in SI; unknown is null. */
export interface Judgement {
  /** Version of the algorithm, e.g. "1". */
  readonly algorithm: string;
  readonly quantity: string;
  readonly unit: string;
  readonly samples: number;
  readonly elapsed: number;
  readonly interval: number | null;
  readonly aperture: number | null;
  readonly noise: number | null;
  readonly resolution: number | null;
  readonly level: number | null;
  /** The level is over-range (healthy for the short checks). */
  readonly levelOverRange: boolean;
  /** Of the leads, ohm: taken off the level before it is judged. Missing: nothing is. */
  readonly leadOhms?: number;
  /** Entry threshold now, SI: a departure beyond it is noticed. */
  readonly threshold: number | null;
  readonly steady: readonly SteadyReading[];
  /** The newest 5,000. */
  readonly dropouts: readonly Dropout[];
  /** All dropouts, where more were seen than are listed. */
  readonly dropoutCount?: number;
  readonly sags: readonly Sag[];
  readonly shifts: readonly Shift[];
  readonly gaps: readonly Gap[];
  readonly verdict: Verdict;
  readonly levelVerdict: LevelVerdict;
  /** Null without limits or while the uncertainty is unknown. Missing in judgements of before. */
  readonly doubt?: LevelDoubt | null;
  /** The readings, or a part of them, can't be what the check asks for: what they read says nothing of the circuit. Missing: they can. */
  readonly isUnfit?: true;
  /** Sentences a technician would say, the decisive one first. */
  readonly reasons: readonly string[];
  /** Shortest dropout that may be seen, s. */
  readonly shortestVisibleDropout: number | null;
  /** Length of dropout that can't be missed, s. */
  readonly sureDropout: number | null;
  /** At 95 %: highest rate still believable for dropouts of `length` s. */
  readonly rateLimitPerHour: { readonly length: number; readonly limit: number | null } | null;
  /** Every claim that the take has a count for, the one that is asked first; none in a spot take. Missing in judgements of before. */
  readonly claims?: readonly ClaimMade[];
  /** What this meter would have seen; null while that can't be told. Missing in judgements of before. */
  readonly sight?: Sight | null;
  /** Missing or null where one meter watches alone. */
  readonly several?: BreakFinding | null;
}

/** How many there were: only so many are listed one by one. */
export function dropoutsIn({ dropoutCount, dropouts }: Pick<Judgement, 'dropoutCount' | 'dropouts'>): number {
  return dropoutCount ?? dropouts.length;
}
