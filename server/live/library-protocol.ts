/**
 * Recordings over HTTP: what the review reads, keeps in order, takes out and brings in. Types only, shared with the browser.
 * Refusals are `{code, message}` with a status of 400 or more.
 *
 *   GET    /api/sessions?search&place                         SessionListing[]; place is recordings, archive or trash
 *   GET    /api/sessions/:session                              SessionContents
 *   GET    /api/sessions/:session/takes/:take/trace?meter&from&to&columns   binary sample frame, at most 4 points a column
 *   GET    /api/sessions/:session/takes/:take/road             RoadReport (session/road-report.ts): dropouts by mark, by motion, by time since the start
 *   GET    /api/sessions/:session/hash                         {hash}: last of the chain, null while nothing is sealed
 *   GET    /api/sessions/:session/documents/:name              what was kept under the name (chart, notes, repair, proof); null when nothing was
 *   PUT    /api/sessions/:session/documents/:name              keeps JSON under the name (a session that is not being recorded)
 *   POST   /api/sessions/:session/move                         MoveRequest -> {session}: its name there
 *   POST   /api/sessions/:session/rename                       {name}
 *   POST   /api/sessions/:session/describe                     {title?, vehicle?, complaint?} -> SessionInfo
 *   POST   /api/sessions/:session/jobs                         SessionJobRequest -> JobState
 *   DELETE /api/trash                                          empties it -> {bytes}
 *   GET    /api/space                                          FolderSpace
 *   POST   /api/imports?name                                   the file as the body -> ImportReady
 *   POST   /api/imports/:import/jobs                           ImportRequest -> JobState
 *   GET    /api/jobs/:job                                      JobState
 *   DELETE /api/jobs/:job                                      stops it; nothing is left behind
 *   GET    /api/jobs/:job/files/:file                          what an export wrote
 */
import type { Accuracy, CheckKind, Limits, Watching } from '../diagnosis/judgement.ts';

export interface MoveRequest {
  readonly from: Place;
  readonly to: Place;
}

export type SessionJobRequest =
  | { readonly type: 'export'; readonly format: ExportFormat; readonly take: number | null; readonly meter: number | null }
  | { readonly type: 'verify'; readonly reportedHash?: string }
  /** Completes a session that was interrupted. */
  | { readonly type: 'finish' }
  /** Brings what can be read of a damaged session into a new one. */
  | { readonly type: 'recover' };

export interface ImportReady {
  readonly import: string;
  readonly preview: CsvPreview;
}

export interface ImportRequest {
  readonly plan: ImportPlan;
  readonly options: {
    readonly title?: string | undefined;
    readonly vehicle?: string | undefined;
    readonly complaint?: string | undefined;
    readonly kind?: CheckKind | undefined;
    readonly watching?: Watching | undefined;
    readonly limits?: Limits | undefined;
    readonly accuracy?: Accuracy | null | undefined;
  };
}

export type JobResult = Exported | Verification | Recovered | Imported | number;

export type JobState =
  | { readonly job: string; readonly state: 'running'; readonly share: number }
  | { readonly job: string; readonly state: 'done'; readonly result: JobResult }
  | { readonly job: string; readonly state: 'failed'; readonly code: string; readonly message: string };

// What recordings/ gives and takes, as it goes over the wire; library-routes.ts holds the two equal at compile time.

export type Place = 'recordings' | 'archive' | 'trash';
export type ExportFormat = 'csv' | 'json' | 'parquet';

export const TIME_FORMATS = [
  's', 'ms', 'us', 'ns', 'minutes', 'unix-s', 'unix-ms', 'unix-us', 'iso', 'clock', 'ymd-clock', 'dmy-clock', 'mdy-clock', 'spreadsheet-days',
] as const;

export interface ImportPlan {
  readonly delimiter: ',' | ';' | '\t' | '|';
  readonly decimal: 'point' | 'comma';
  readonly headingRows: number;
  readonly time: { readonly column: number; readonly format: (typeof TIME_FORMATS)[number]; readonly dateColumn: number | null } | null;
  /** s; only used without a time column. */
  readonly interval: number | null;
  readonly values: readonly { readonly column: number; readonly unit: string; readonly label: string }[];
  readonly unitColumn: number | null;
  readonly flagColumn: number | null;
  readonly resolutionColumn: number | null;
  readonly takeColumn: number | null;
  readonly meterColumn: number | null;
}

export interface CsvPreview {
  readonly plan: ImportPlan;
  readonly heading: readonly string[];
  readonly rows: readonly (readonly string[])[];
  /** What the guess is unsure of, as sentences. */
  readonly doubts: readonly string[];
}

export interface Exported {
  readonly samples: number;
  readonly files: readonly string[];
}

export interface Imported {
  readonly session: string;
  readonly samples: number;
  readonly takes: number;
  readonly skipped: number;
  readonly skippedFirst: readonly { readonly line: number; readonly why: string }[];
  readonly spread: number;
}

export interface Recovered {
  readonly session: string;
  readonly takes: number;
  readonly samples: number;
  readonly unreadable: number;
}

export interface Verification {
  readonly state: 'unchanged' | 'changed';
  readonly findings: readonly { readonly where: string; readonly what: string }[];
  readonly seals: number;
  readonly sealedSamples: number;
  readonly unsealedSamples: number;
  readonly hash: string | null;
  readonly reported: 'last' | 'earlier' | 'unknown' | null;
}

export interface FolderSpace {
  readonly freeBytes: number | null;
  readonly used: Readonly<Record<Place, number>>;
}
