/**
 * What the service and its dashboards say to each other. Types only, shared with the browser.
 *
 * Over the websocket `/live` the service sends text frames (`ServerMessage`) and binary frames of
 * samples (sample-frame.ts); a dashboard sends `ClientMessage` as text. State is always sent whole, but for the list of checks: a
 * dashboard that missed a message is right again with the next one. Recordings go over HTTP: library-protocol.ts. What is said of
 * forwarded, unknown and taught meters is in meter-protocol.ts.
 */
import type { LinkCounts, LinkStatus } from '../../drivers/meter.ts';
import type { Quantity } from '../../drivers/reading.ts';
import type { PortListing } from '../../drivers/transports/ports.ts';
import type { LiveLocation, LocationRequest } from './location-protocol.ts';
import type { CheckKind, Claim, Exposure, Judgement, Limits, Verdict, Watching } from '../diagnosis/judgement.ts';
import type { ZoneReport } from '../diagnosis/zones.ts';
import type { ApertureStanding } from '../session/aperture-watch.ts';
import type { BatteryReading } from '../session/battery-reference.ts';
import type { Caution } from '../session/cautions.ts';
import type { Chart } from '../session/chart.ts';
import type { MeasuredHabits } from '../session/meter-habits.ts';
import type { SystemVoltage } from '../session/limits.ts';
import type { MeterProfile } from '../session/meter-profile.ts';
import type { OwnLimits } from '../session/own-limits.ts';
import type { Pace } from '../session/pacing.ts';
import type { ReadingWarning } from '../session/plausibility.ts';
import type { RepairFile, SetAside } from '../session/repair.ts';
import type { RigStanding } from '../session/rig.ts';
import type { RoadChannel } from '../session/road-channels.ts';
import type { BesideLeads, Check, MarkKind, MarkRecord, MeterRecord, SessionInfo, TakeRecord } from '../session/session.ts';
import type { Provocation } from '../session/take-account.ts';
import type { LiveFinding, MeterMoved, MeterRequest, MeterWrite } from './meter-protocol.ts';

export interface LiveMeter extends MeterRecord {
  readonly link: LinkStatus;
  readonly counts: LinkCounts;
  /** Session clock, s, of the last sample; null when none has come. */
  readonly lastSampleAt: number | null;
  /** What it shows of itself, beside what is known of it. */
  readonly measured: MeasuredHabits;
  /** Its aperture while it is being measured; null when it is not. */
  readonly tapping: ApertureStanding | null;
}

export interface LivePorts {
  readonly ports: readonly (PortListing & {
    /** What to attach: names the adapter by its serial number where it has one. */
    readonly address: string;
  })[];
  readonly message: string;
}

export interface RecordingState {
  /** saving: every sample is on disk within a quarter of a second; not-saving: see the message; idle: no take runs. */
  readonly state: 'idle' | 'saving' | 'not-saving';
  readonly message: string;
  readonly file: string | null;
  readonly freeBytes: number | null;
  /** Time until the disk is full at the rate of now, s; null when nothing is being recorded. */
  readonly secondsLeft: number | null;
  /** A sentence when room gets short, else empty. */
  readonly spaceWarning: string;
}

/** A session that may be gone on with: the one that was at hand when the service last ran. */
export interface LiveOffer {
  /** Its name among the recordings. */
  readonly session: string;
  readonly info: SessionInfo;
  readonly takes: number;
}

export interface Simulation {
  readonly scenario: string;
  /** What is complained of, a sentence. */
  readonly complaint: string;
  /** What can be simulated, and what is now. */
  readonly faults: readonly { readonly id: string; readonly label: string }[];
  readonly fault: string;
}

/** The chart at hand in short; the request `read-chart` gives it whole. */
export interface LiveChart {
  /** Counts its changes: read it again when this has changed, and send it back with a change. */
  readonly revision: number;
  /** Null when there is no chart: checks are then made by hand. */
  readonly name: string | null;
  /** A user typed it or brought it in; false for the one that comes with a simulation. */
  readonly isOwn: boolean;
  readonly circuits: readonly { readonly id: string; readonly name: string }[];
}

/** The state that the check asks for. */
export interface LiveCondition {
  /** E.g. "key on, clutch on"; empty when the check asks for none. */
  readonly text: string;
  /** The operator has said that it is met, for the running take, else for the next one. */
  readonly isMet: boolean;
}

/** What the operator does to the harness in a wiggle take. */
export interface LiveWiggle {
  /** Zones to be flexed, in order along the harness: by the chart until the operator names others. */
  readonly zones: readonly string[];
  /** Zone that is flexed now; null for none. */
  readonly zone: string | null;
  /** How the circuit is provoked now. */
  readonly provocations: readonly Provocation[];
  /** Time flexed, dropouts, rate with limits and chance of being the source for each zone, and which to flex next; null while none was flexed. */
  readonly report: ZoneReport | null;
  /** Time in each zone when the tool paces, s; null when it does not. */
  readonly paceSeconds: number | null;
  /** The step of the pacing that holds now, e.g. to say aloud when it changes: "Zone 3, over the gantry hinge: flex for 20 s." */
  readonly pace: (Pace & { readonly message: string }) | null;
}

/** The battery beside the take: did the source move? */
export interface LiveReference {
  /** Index of the second meter, across the battery; null when there is none. */
  readonly meter: number | null;
  /** Readings of the battery before the first and after the last take of this check. */
  readonly before: BatteryReading | null;
  readonly after: BatteryReading | null;
  /** What they say; empty when nothing. */
  readonly message: string;
  /** The source moved, not only the harness: said as a warning. */
  readonly hasMoved: boolean;
}

/** Further meters on the same circuit: of the running take, else for the next one. */
export interface LiveBeside {
  readonly meters: readonly BesideLeads[];
  /** Whether the chart has one line through all their points, on which the break can be placed; what is missing, as a sentence. Empty when all is well. */
  readonly message: string;
}

export interface LiveRoad {
  /** Everything is set for the drive: leads proved or the user goes without, driver's caution read. */
  readonly isArmed: boolean;
  /** Screens ignore touch until unlocked. */
  readonly isLocked: boolean;
  /** Motion and position as they come in from a phone: newest value of each, SI. */
  readonly channels: readonly { readonly channel: RoadChannel; readonly at: number; readonly value: number }[];
  /** Said before the drive, e.g. that a meter that is forwarded by the phone is lost when the phone sleeps; empty when all is well. */
  readonly message: string;
}

/** What was found and repaired. */
export interface LiveRepair extends RepairFile {
  /** Counts the changes of its words: sent back with a change of them. */
  readonly revision: number;
  /** Number of the repair that can still be corrected, and that pictures go to: no take was made since. Null: pictures wait for the next one. */
  readonly open: number | null;
}

export interface LiveState {
  readonly version: string;
  /** Session clock at sending, s. */
  readonly clock: number;
  readonly session: SessionInfo;
  /** Counts the changes of the session's description: sent back with a change of it. */
  readonly sessionRevision: number;
  readonly meters: readonly LiveMeter[];
  /** Serial ports that a meter may hang on, and why the list may be incomplete. */
  readonly ports: LivePorts;
  /** What is being found out of an unknown meter, and what came of it; null for nothing. */
  readonly finding: LiveFinding | null;
  /** Index of the meter that takes are judged by; the others are recorded beside it. */
  readonly judgedMeter: number;
  readonly chart: LiveChart;
  /** Checks offered for the chart at hand; one of each kind when there is none. */
  readonly checks: readonly Check[];
  /** Nominal voltage of the system, V, and where that comes from. */
  readonly system: { readonly volts: SystemVoltage; readonly from: 'said' | 'chart' | 'battery' | 'assumed' };
  /** Limits that the user changed for every check of a kind. */
  readonly ownLimits: readonly OwnLimits[];
  /** Points of the chart, for a check made by hand. */
  readonly points: readonly string[];
  /** The check chosen: that of the running take, else of the next. */
  readonly check: Check;
  readonly watching: Watching;
  readonly take: TakeRecord | null;
  readonly condition: LiveCondition;
  /** What is odd about the newest readings: wrong function or range, leads reversed ... Those with `isInstead` keep the take undecided. */
  readonly warnings: readonly ReadingWarning[];
  /** Cautions for the check at hand; each is acknowledged once a session. */
  readonly cautions: readonly (Caution & { readonly isAcknowledged: boolean })[];
  /** Whether the leads have been proved, and what to do next for that. */
  readonly rig: RigStanding;
  readonly wiggle: LiveWiggle;
  readonly reference: LiveReference;
  readonly beside: LiveBeside;
  readonly road: LiveRoad;
  /** Connectors taken apart and put together in this session, newest first: each may have cured the fault. */
  readonly reseats: readonly { readonly at: number; readonly connector: string }[];
  readonly repair: LiveRepair;
  /** What the operator did in the running take: flexes counted, time flexed. */
  readonly exposure: Exposure;
  /** Marks of the running take; flexes are counted in `exposure` instead. */
  readonly marks: readonly MarkRecord[];
  /** Ended takes of this session, newest first. */
  readonly ended: readonly { readonly take: TakeRecord; readonly verdict: Verdict; readonly dropouts: number }[];
  readonly recording: RecordingState;
  /** Null: there is none, or a take has been made in another session since. */
  readonly offer: LiveOffer | null;
  readonly simulation: Simulation | null;
}

/** The state as it is sent. */
export type SentState = Omit<LiveState, 'checks'>;

export type ServerMessage =
  /** The checks offered: the bulk of the state, sent before the first state and whenever they change. */
  | { readonly type: 'checks'; readonly checks: LiveState['checks'] }
  | { readonly type: 'state'; readonly state: SentState }
  /** Verdict so far of the running take, or of the one just ended. */
  | { readonly type: 'judgement'; readonly take: number; readonly clock: number; readonly judgement: Judgement }
  /** It has left its level and returned: how often in this take so far. Comes before the judgement that says the same. */
  | { readonly type: 'departure'; readonly take: number; readonly departures: number }
  /** The search for the fault: when it begins to be worked out and when it is done. */
  | { readonly type: 'located'; readonly location: LiveLocation }
  /** `result` where the request asks for something: see ClientRequest. */
  | { readonly type: 'done'; readonly request: number; readonly result?: unknown }
  | { readonly type: 'refused'; readonly request: number; readonly code: string; readonly message: string }
  /** Every two seconds, so that a dashboard knows the service is there even when nothing happens. */
  | { readonly type: 'alive'; readonly clock: number }
  | MeterWrite
  | MeterMoved;

export type ClientRequest =
  /**
   * While a take runs this closes it and opens the next without losing a sample in between. Refused with RESTRAINT_SYSTEM or
   * METER_NOT_ISOLATED where the check must not be made.
   */
  | {
      readonly type: 'start-take'; readonly check: Check; readonly watching: Watching;
      /** The circuit is in the state that the check asks for: saves the tap. */
      readonly conditionIsMet?: boolean;
      /** What a clean take must show before it passes; the usual when left out. */
      readonly claim?: Claim;
      /** The take ends by itself when the claim is met or the zone of the source is found. */
      readonly endsItself?: boolean;
    }
  | { readonly type: 'stop-take' }
  /** Chooses check and way of watching; while a take runs it goes on to a new take. */
  | { readonly type: 'choose'; readonly check: Check; readonly watching: Watching }
  | { readonly type: 'mark'; readonly text: string; readonly kind?: MarkKind }
  /** The operator flexed the harness this many times more (wiggle takes). */
  | { readonly type: 'flex'; readonly count: number }
  /** What the user knows of a meter; accuracy and lead resistance count for the running take at once, interval and aperture from the next. Fields left out stay as they are. */
  | ({ readonly type: 'describe-meter'; readonly meter: number } & MeterProfile)
  /**
   * Names the session: any of these may be added at any time. `basedOn` is the `sessionRevision` that the user saw: when somebody else
   * changed it since, it is refused with CHANGED_MEANWHILE. Without it, only what is still empty may be filled.
   */
  | {
      readonly type: 'describe'; readonly basedOn?: number; readonly title?: string; readonly vehicle?: string; readonly complaint?: string;
      readonly codes?: readonly string[]; readonly facts?: string; readonly ambient?: number | null;
      readonly systemVoltage?: SystemVoltage | null;
    }
  /** Gives back { revision, chart } (chart: Chart or null). */
  | { readonly type: 'read-chart' }
  /** Puts the chart in place of the one of revision `basedOn` (null: none); gives back the new revision. Refused with CHANGED_MEANWHILE or BAD_CHART. */
  | { readonly type: 'change-chart'; readonly basedOn: number; readonly chart: Chart | null }
  /** Limits for every check of this kind and function from now on, in this session; null: those of before again. */
  | { readonly type: 'change-limits'; readonly kind: CheckKind; readonly quantity: Quantity; readonly limits: Limits | null }
  /** The circuit is (or is no longer) in the state that the check asks for. */
  | { readonly type: 'confirm-condition'; readonly isMet: boolean }
  /** A caution was read; its id. */
  | { readonly type: 'acknowledge'; readonly caution: string }
  /** Begins the rig proof in the running take (harness still, leads tugged), which ends by itself after 10 s; or ends it before its time. After a failed one, a new take is begun for it. */
  | { readonly type: 'prove-rig'; readonly isRunning: boolean }
  /** Zones of the harness, in order along it; empty: those of the chart again. */
  | { readonly type: 'name-zones'; readonly zones: readonly string[] }
  /** The zone that is flexed from now on; null: hands off. */
  | { readonly type: 'flex-zone'; readonly zone: string | null }
  /** The tool says which zone to flex, for so many seconds each (20 when left out), and counts it as flexed; null: no longer. */
  | { readonly type: 'pace'; readonly seconds: number | null }
  /** How the circuit is provoked from now on. */
  | { readonly type: 'provoke'; readonly provocations: readonly Provocation[] }
  /** A connector was taken apart and put together: recorded, also between takes. */
  | { readonly type: 'reseat'; readonly connector: string }
  /** The meter that watches the battery beside the takes, from the next one on; null for none. */
  | { readonly type: 'refer-to'; readonly meter: number | null }
  /** What the leads of a further meter touch, from the next take on, to tell between which points a break lies; null: it watches no points. */
  | { readonly type: 'watch-beside'; readonly meter: number; readonly leads: { readonly red: string; readonly black: string } | null }
  /** A reading of the battery, V, for before and after. A spot take of the chart's battery check counts as one by itself. */
  | { readonly type: 'battery'; readonly volts: number }
  /** All is set for the drive (or no longer). */
  | { readonly type: 'arm'; readonly isArmed: boolean }
  | { readonly type: 'lock'; readonly isLocked: boolean }
  /**
   * Motion or position measured by this device, recorded in the running take beside the meters. Times on the session clock, s, as the device
   * reckons it from `clock`, rising; values SI (degrees for latitude and longitude).
   */
  | { readonly type: 'motion'; readonly channel: RoadChannel; readonly times: readonly number[]; readonly values: readonly number[] }
  /** What was found, in the user's words. It and what follows: `basedOn` is the `repair.revision` that the user saw; refused with CHANGED_MEANWHILE; gives back { revision }. */
  | { readonly type: 'note-finding'; readonly basedOn: number; readonly text: string }
  /** Something was repaired now: takes before and after it are not mixed. Refused with TAKE_RUNS or NOTHING_SAID. */
  | { readonly type: 'note-repair'; readonly basedOn: number; readonly text: string; readonly place: string }
  /** The last repair in other words; or it was none. Refused with REPAIR_STANDS once a take was begun after it. */
  | { readonly type: 'correct-repair'; readonly basedOn: number; readonly text: string; readonly place: string }
  | { readonly type: 'take-back-repair'; readonly basedOn: number }
  /** A check failed for another reason than the fault that was repaired: takes of it so far are left out of the proof. Refused with NOTHING_SAID without a reason. */
  | { readonly type: 'set-aside'; readonly basedOn: number; readonly check: SetAside['check']; readonly reason: string }
  | { readonly type: 'count-again'; readonly basedOn: number; readonly check: SetAside['check'] }
  /** Pictures come over HTTP: repair-routes.ts. Refused with PICTURE_STANDS. */
  | { readonly type: 'drop-photo'; readonly photo: string }
  /** A chart that the user made goes on with the new session, unless `keepsChart` is false. */
  | { readonly type: 'new-session'; readonly keepsChart?: boolean }
  /**
   * Goes on with a recorded session (its name), with its chart, papers, repairs and takes; null: the one that is offered is left alone.
   * Refused with TAKE_RUNS, SESSION_AT_HAND, SESSION_BUSY, SESSION_IMPORTED, SESSION_DAMAGED, SESSION_NEWER ...
   */
  | { readonly type: 'go-on'; readonly session: string | null }
  /** One more meter, by its address; gives back its MeterRecord. */
  | { readonly type: 'attach-meter'; readonly address: string }
  | { readonly type: 'detach-meter'; readonly meter: number }
  /** The tips are held together now: what the meter reads is its leads. Gives back ohms; refused with LEADS_NOT_NULLED and what to do. */
  | { readonly type: 'null-leads'; readonly meter: number }
  /** Takes are judged by this meter from the next one on. */
  | { readonly type: 'judge-by'; readonly meter: number }
  | { readonly type: 'simulate'; readonly fault: string }
  | MeterRequest
  | LocationRequest;
export type ClientMessage = ClientRequest & { readonly request: number };

export type { LiveLocation, RoadChannel };
export type * from './meter-protocol.ts';
export type { SessionContents, SessionListing } from '../session/session.ts';
