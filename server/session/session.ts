/** The records of a session: what is stored as rows and shown on screen. Pure. */
import type { Quantity } from '../../drivers/reading.ts';
import type { Arrangement } from '../diagnosis/circuit/index.ts';
import type { Chain } from '../diagnosis/coincidence.ts';
import type { Accuracy, CheckKind, CheckLoad, Claim, Judgement, Limits, RangeAccuracy, Verdict, Watching } from '../diagnosis/judgement.ts';
import type { SampleColumns } from '../diagnosis/samples.ts';
import type { SystemVoltage } from './limits.ts';
import type { meterSetup } from './meter-profile.ts';
import type { TakeAccount } from './take-account.ts';

/** One measurement to make: kind, where each lead goes, the state the circuit must be in, limits. */
export interface Check {
  /** Stable within a session's chart; free text for a check made by hand. */
  readonly id: string;
  readonly kind: CheckKind;
  /** Point that the red lead touches, e.g. "CL-". */
  readonly red: string;
  /** Point that the black lead touches, e.g. "B-". */
  readonly black: string;
  readonly limits: Limits;
  /** Where the limits come from, e.g. "common practice" or "typed by the user". */
  readonly limitsBasis: string;
  /** State that the circuit must be in, e.g. "key on, clutch on"; empty when none. */
  readonly condition: string;
  /** Sentences to do before touching: what to unplug, which jack and range. */
  readonly instructions: readonly string[];
  readonly cautions: readonly string[];
  /** What the meter must be set to; missing on a check made by hand (then the usual of its kind). */
  readonly quantity?: Quantity;
  /** The same state as `condition`, for the circuit model; missing: the usual of its kind. */
  readonly arrangement?: Arrangement;
  /** A 21 W lamp is put across the leads as load. */
  readonly lamp?: boolean;
  /** What feeds and loads the circuit there, by the model; missing when nothing does or nobody knows. */
  readonly load?: CheckLoad;
  /** Nominal voltage of the system, V: what an open lifts a reading on the ground side to; missing: 12. */
  readonly supply?: number;
  /** Shallowest plateau that counts as a dropout, SI; missing: 5 % of a voltage level, 1 ohm. */
  readonly depth?: number;
  /** Away for longer than this is a shift, s; missing: 10. */
  readonly shiftAfter?: number;
  /** What a healthy circuit reads by the model, SI (null: over-range), and why. */
  readonly healthy?: { readonly value: number | null; readonly why: string };
}

/** The same measurement: of one kind, with each lead at the same point. */
export function isSameCheck(a: Pick<Check, 'kind' | 'red' | 'black'>, b: Pick<Check, 'kind' | 'red' | 'black'>): boolean {
  return a.kind === b.kind && a.red === b.red && a.black === b.black;
}

/** From here on the session was gone on with, after a pause that the session clock leaps over. */
export interface Stretch {
  /** Session clock, s. */
  readonly at: number;
  /** Wall time then, microseconds since 1970-01-01 UTC. */
  readonly startedAtUs: number;
}

/** Identity of a session. Wall time is stored here, once for each stretch (wall-time.ts); everything else is on the session clock. */
export interface SessionInfo {
  readonly id: string;
  /** Wall time at session clock 0, microseconds since 1970-01-01 UTC. */
  readonly startedAtUs: number;
  /** In order; missing: it was recorded in one go. */
  readonly stretches?: readonly Stretch[];
  readonly title: string;
  readonly vehicle: string;
  readonly complaint: string;
  /** Trouble codes noted, as read, e.g. "P0562"; missing: none noted. */
  readonly codes?: readonly string[];
  /** What else matters, in the user's words: when it began, what was repaired before. */
  readonly facts?: string;
  /** Ambient temperature, degC; null or missing when unknown (then checks count on 20 degC). */
  readonly ambient?: number | null;
  /** Nominal voltage of the system, V, as said; missing or null: that of the chart, else as the battery reads, else 12. */
  readonly systemVoltage?: SystemVoltage | null;
}

/** A meter as the session knows it; samples refer to it by `index`. */
export interface MeterRecord {
  readonly index: number;
  readonly address: string;
  readonly label: string;
  readonly simulated: boolean;
  readonly interval: number | null;
  readonly aperture: number | null;
  /** On every range that has no line of its own in `ranges`. */
  readonly accuracy: Accuracy | null;
  /** Accuracy by function and range, as its manual has it; missing: none has its own. */
  readonly ranges?: readonly RangeAccuracy[];
  /** Largest number that its display shows, e.g. 6000; null or missing: not known. */
  readonly displayCounts?: number | null;
  /** Of both leads together, taken off ohms readings; null: not known. */
  readonly leadOhms: number | null;
  /** Day on which the leads were nulled, as YYYY-MM-DD; empty or missing: not known. */
  readonly leadsNulled?: string;
  /** Whether its link to the computer is isolated: an earthed computer ties its black lead to ground where it is not. Null or missing: not known. */
  readonly isolated?: boolean | null;
  /** Date of its last calibration as the user wrote it; empty or missing: not known. */
  readonly calibrated?: string;
  /** A recording played back, at so many times its pace; missing: not a playback. */
  readonly playedAt?: number;
}

/** A meter that watches other points of the circuit in the same take. */
export interface BesideLeads {
  /** Its index. */
  readonly meter: number;
  readonly red: string;
  readonly black: string;
}

/** One continuous recording of one check. */
export interface TakeRecord {
  readonly id: number;
  readonly check: Check;
  readonly watching: Watching;
  /** Index of the meter that is judged. */
  readonly meter: number;
  /** Session clock, s. */
  readonly start: number;
  /** Session clock, s; null while running, and for good when the service died. */
  readonly end: number | null;
  /** How it ended: stopped by the operator, next check chosen, service stopped, found open after a crash, copied while it ran, or by itself. */
  readonly ending: 'running' | 'stopped' | 'next-check' | 'service-stopped' | 'interrupted' | 'copied' | 'claim-met' | 'zone-found';
  /** What a clean take must show before it passes, where the operator chose it. */
  readonly claim?: Claim;
  /** The take ends by itself when its claim is met or the zone of the source is found. */
  readonly endsItself?: boolean;
  /** Index of a second meter across the battery, recorded beside. */
  readonly reference?: number;
  /** The repair that it was made after, with the hash that seals what was noted of it (recordings/chain.ts). */
  readonly repair?: { readonly number: number; readonly hash: string };
  /** Further meters on the same circuit, and what their leads touch. */
  readonly beside?: readonly BesideLeads[];
  /** The line through the circuit that holds all their points, by the chart; missing when it has none. */
  readonly chain?: Chain;
  /** Zones of the harness to be flexed, in order along it. */
  readonly zones?: readonly string[];
  /** What the user said of the meter while the take ran: it counts for the whole of it. */
  readonly said?: ReturnType<typeof meterSetup>;
  /** What was done in the take, as its marks tell; written when it ends. */
  readonly account?: TakeAccount;
}

/**
 * What a mark notes. mark: anything · zone: the zone named by the text is flexed from now on, none when empty ·
 * provocation: how the circuit is provoked from now on (tap, heat ...) · reseat: a connector was taken apart and put together ·
 * caution: a caution was read · rig-proof: with the text "begin", only the leads are tugged from now on, until "end" ·
 * condition: the circuit is in the state that the text names, in no known state when empty · flex: the harness was flexed `count` times
 */
export const MARK_KINDS = ['mark', 'zone', 'provocation', 'reseat', 'caution', 'rig-proof', 'condition', 'flex'] as const;
export type MarkKind = (typeof MARK_KINDS)[number];

export interface MarkRecord {
  readonly id: number;
  readonly take: number;
  /** Session clock, s. */
  readonly at: number;
  readonly text: string;
  /** Missing: a plain mark. */
  readonly kind?: MarkKind;
  /** Flexes of a mark of that kind; 1 when missing. */
  readonly count?: number;
}

/** Samples of one meter, as they go to the recording and the screens. Never straddles a take boundary. */
export interface SampleBatch extends SampleColumns {
  readonly meter: number;
  /** Take id; 0 between takes (shown, not recorded). */
  readonly take: number;
  /** Sequence number of the first sample: counts every sample of the session, all meters, from 1. */
  readonly firstSeq: number;
  /** Arrival time as measured, s on the session clock; never altered. */
  readonly arrival: Float64Array;
}

/** Samples that were measured and judged, and given up before they could be saved: the disk was full, gone or too slow for too long. */
export interface Loss {
  readonly firstSeq: number;
  readonly lastSeq: number;
  readonly samples: number;
  /** Session clock, s. */
  readonly from: number;
  readonly to: number;
  readonly why: string;
}

/** A take as the review lists it. */
export interface TakeSummary extends TakeRecord {
  readonly samples: number;
  readonly verdict: Verdict;
  readonly judgement: Judgement;
}

/** A recording as the list of sessions shows it. */
export interface SessionListing {
  readonly session: string;
  readonly info: SessionInfo | null;
  readonly takes: number;
  readonly bytes: number;
  /** damaged: can't be read, see the message; recording: written to now. */
  readonly state: 'complete' | 'recording' | 'damaged';
  readonly message: string;
}

/** What opening a session shows, read without reading samples. */
export interface SessionContents {
  readonly info: SessionInfo;
  readonly meters: readonly MeterRecord[];
  readonly takes: readonly TakeSummary[];
  readonly marks: readonly MarkRecord[];
  readonly losses: readonly Loss[];
}
