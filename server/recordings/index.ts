/**
 * The session file: written live, read back, drawn at any width. Read session-writer.ts first, then schema.ts.
 * May import session, diagnosis and the Reading type; knows nothing of who serves or feeds it.
 *
 *   recorder -> (thread) write-queue -> session-writer -> file -> session-reader -> shelf (thread) -> library
 *
 * Long jobs (export, import, verify, recover) run in threads of their own: start-job.ts.
 */
export { repairHash } from './chain.ts';
export { addSession, isSessionFile } from './add-session.ts';
export { Recorder } from './recorder.ts';
export { InterruptedSessions } from './interrupted-sessions.ts';
export { Library } from './library.ts';
export { RecordingError } from './errors.ts';
export { exportSession, formatOf } from './export.ts';
export { importCsv, isUnit, previewCsv, TIME_FORMATS } from './import/index.ts';
export { judgeAgain, judgeWhole } from './judge-stored.ts';
export { openSession, readSession } from './session-reader.ts';
export { DELIMITERS, EXPORT_FORMATS, PLACES, ZONES } from './offers.ts';
export { sessionReport } from './report-session.ts';
export { startJob } from './start-job.ts';
export { startWorker } from './worker-thread.ts';
export { verifySession } from './verify.ts';

export type { RecorderOptions } from './recorder.ts';
export type { ExportOptions } from './export.ts';
export type { ImportOptions, TimeFormat } from './import/index.ts';
export type { Job, JobResults } from './job.ts';
export type { ResumedSession } from './resume.ts';
export type { RunningJob } from './start-job.ts';
export type { RecordingErrorCode, RecordingTrouble } from './errors.ts';
export type { RecordingSpace } from './space.ts';
export type { Trace } from './sample-reader.ts';
export type { VerifyOptions } from './verify.ts';
export type { SamplePage } from './shelf.ts';
export type {
  Added, CsvPreview, Delimiter, Exported, ExportFormat, Finding, FolderSpace, Imported, ImportPlan, Place, PlanBeginning, Recovered, ValueColumn, Verification,
} from './offers.ts';
