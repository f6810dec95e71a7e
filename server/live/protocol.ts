/**
 * What the service and its dashboards say to each other. Types only, shared with the browser.
 *
 * Over the websocket `/live` the service sends text frames (`ServerMessage`) and binary frames of
 * samples (sample-frame.ts); a dashboard sends `ClientMessage` as text. State is always sent whole: a
 * dashboard that missed a message is right again with the next one. Recordings are read over HTTP:
 *
 *   GET /api/sessions                                        SessionListing[]
 *   GET /api/sessions/:session                               SessionContents
 *   GET /api/sessions/:session/takes/:take/trace?meter&from&to&columns   binary sample frame, at most 4 points a column
 */
import type { LinkCounts, LinkStatus } from '../../drivers/meter.ts';
import type { Accuracy, Exposure, Judgement, Verdict, Watching } from '../diagnosis/judgement.ts';
import type { Check, MarkKind, MarkRecord, MeterRecord, SessionInfo, TakeRecord } from '../session/session.ts';

export interface LiveMeter extends MeterRecord {
  readonly link: LinkStatus;
  readonly counts: LinkCounts;
  /** Session clock, s, of the last sample; null when none has come. */
  readonly lastSampleAt: number | null;
}

export interface RecordingState {
  /** saving: every sample is on disk within a quarter of a second; not-saving: see the message; idle: no take runs. */
  readonly state: 'idle' | 'saving' | 'not-saving';
  readonly message: string;
  readonly file: string | null;
  readonly freeBytes: number | null;
}

export interface Simulation {
  readonly scenario: string;
  /** What can be simulated, and what is now. */
  readonly faults: readonly { readonly id: string; readonly label: string }[];
  readonly fault: string;
}

export interface LiveState {
  readonly version: string;
  /** Session clock at sending, s. */
  readonly clock: number;
  readonly session: SessionInfo;
  readonly meters: readonly LiveMeter[];
  /** Index of the meter that takes are judged by; the others are recorded beside it. */
  readonly judgedMeter: number;
  /** Checks offered for the chart at hand. */
  readonly checks: readonly Check[];
  /** Points of the chart, for a check made by hand. */
  readonly points: readonly string[];
  /** The check chosen: that of the running take, else of the next. */
  readonly check: Check;
  readonly watching: Watching;
  readonly take: TakeRecord | null;
  /** What the operator did in the running take: flexes counted, time flexed. */
  readonly exposure: Exposure;
  /** Marks of the running take. */
  readonly marks: readonly MarkRecord[];
  /** Ended takes of this session, newest first. */
  readonly ended: readonly { readonly take: TakeRecord; readonly verdict: Verdict; readonly dropouts: number }[];
  readonly recording: RecordingState;
  readonly simulation: Simulation | null;
}

export type ServerMessage =
  | { readonly type: 'state'; readonly state: LiveState }
  /** Verdict so far of the running take, or of the one just ended. */
  | { readonly type: 'judgement'; readonly take: number; readonly clock: number; readonly judgement: Judgement }
  /** `result` where the request asks for something: see ClientRequest. */
  | { readonly type: 'done'; readonly request: number; readonly result?: unknown }
  | { readonly type: 'refused'; readonly request: number; readonly code: string; readonly message: string }
  /** Every two seconds, so that a dashboard knows the service is there even when nothing happens. */
  | { readonly type: 'alive'; readonly clock: number };

export type ClientRequest =
  /** While a take runs this closes it and opens the next without losing a sample in between. */
  | { readonly type: 'start-take'; readonly check: Check; readonly watching: Watching }
  | { readonly type: 'stop-take' }
  /** Chooses check and way of watching; while a take runs it goes on to a new take. */
  | { readonly type: 'choose'; readonly check: Check; readonly watching: Watching }
  | { readonly type: 'mark'; readonly text: string; readonly kind?: MarkKind }
  /** The operator flexed the harness this many times more (wiggle takes). */
  | { readonly type: 'flex'; readonly count: number }
  /** What the user knows of a meter; accuracy and lead resistance count for the running take at once, interval and aperture from the next. Fields left out stay as they are. */
  | {
      readonly type: 'describe-meter'; readonly meter: number;
      readonly accuracy?: Accuracy | null; readonly interval?: number | null; readonly aperture?: number | null; readonly leadOhms?: number | null;
    }
  /** Names the session: any of these may be added at any time. */
  | { readonly type: 'describe'; readonly title?: string; readonly vehicle?: string; readonly complaint?: string }
  | { readonly type: 'new-session' }
  /** One more meter, by its address; gives back its MeterRecord. */
  | { readonly type: 'attach-meter'; readonly address: string }
  | { readonly type: 'detach-meter'; readonly meter: number }
  /** Takes are judged by this meter from the next one on. */
  | { readonly type: 'judge-by'; readonly meter: number }
  | { readonly type: 'simulate'; readonly fault: string };
export type ClientMessage = ClientRequest & { readonly request: number };

export type { SessionContents, SessionListing } from '../session/session.ts';
