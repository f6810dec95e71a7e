/**
 * Recordings over HTTP: what the review reads, keeps in order, takes out and brings in. Types only, shared with the browser.
 * Refusals are `{code, message}` with a status of 400 or more.
 *
 *   GET    /api/sessions?search&place                         SessionListing[]; place is recordings, archive or trash
 *   GET    /api/sessions/:session                              SessionContents
 *   GET    /api/sessions/:session/takes/:take/trace?meter&from&to&columns   binary sample frame, at most 4 points a column
 *   GET    /api/sessions/:session/takes/:take/road             RoadReport (session/road-report.ts): dropouts by mark, by motion, by time since the start
 *   GET    /api/sessions/:session/takes/:take/again            JudgedAgain (session/judged-again.ts): the stored judgement beside the one of today
 *   GET    /api/sessions/:session/hash                         {hash}: last of the chain, null while nothing is sealed
 *   GET    /api/sessions/:session/documents/:name              what was kept under the name (chart, notes, repair, proof); null when nothing was
 *   PUT    /api/sessions/:session/documents/:name              keeps JSON under the name (a session that is not being recorded)
 *   PUT    /api/sessions/:session/notes/:note                  {take, at, text} -> Note[]; without text it is taken out. Read them as the document notes
 *   GET    /api/sessions/:session/photos/:photo            a picture of a repair, JPEG
 *   GET    /api/sessions/:session/found                        FoundByReadings or null: where the fault lies by the readings before the first repair
 *   GET    /api/sessions/:session/report                   the report: one HTML page without script
 *   POST   /api/sessions                                   a session file from elsewhere as the body -> Added
 *   POST   /api/sessions/:session/move                         MoveRequest -> {session}: its name there
 *   POST   /api/sessions/:session/rename                       {name}
 *   POST   /api/sessions/:session/describe                     {title?, vehicle?, complaint?} -> SessionInfo
 *   POST   /api/sessions/:session/jobs                         SessionJobRequest -> JobState
 *   DELETE /api/trash                                          empties it -> {bytes}
 *   GET    /api/space                                          FolderSpace
 *   POST   /api/imports?name                                   the file as the body -> ImportReady
 *   POST   /api/imports/:import/preview                        {delimiter?, headingRows?} -> CsvPreview: guessed anew
 *   POST   /api/imports/:import/jobs                           ImportRequest -> JobState
 *   GET    /api/jobs/:job                                      JobState
 *   DELETE /api/jobs/:job                                      stops it; nothing is left behind
 *   GET    /api/jobs/:job/files/:file                          what an export wrote
 */
import type { CsvPreview, Exported, ExportFormat, Imported, ImportPlan, Place, Recovered, Verification } from '../recordings/offers.ts';
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

export { notesOf, type Note } from '../session/notes.ts';
export { DELIMITERS, PLACES, EXPORT_FORMATS, ZONES } from '../recordings/offers.ts';
export { TIME_FORMATS } from '../recordings/import/time-format.ts';
export type { Added, CsvPreview, Delimiter, Exported, ExportFormat, FolderSpace, FoundByReadings, Imported, ImportPlan, Place, PlanBeginning, Recovered, Verification, Zone } from '../recordings/offers.ts';
