/**
 * The session file: written live, read back, drawn at any width. Read session-writer.ts first, then schema.ts.
 * May import session, diagnosis and the Reading type; knows nothing of who serves or feeds it.
 *
 *   recorder -> (thread) write-queue -> session-writer -> file -> session-reader -> shelf (thread) -> library
 *
 * Long jobs (export, import, verify, recover) run in threads of their own: start-job.ts.
 */
export { Recorder } from './recorder.ts';
export { Library } from './library.ts';
export { RecordingError } from './errors.ts';
export { EXPORT_FORMATS, exportSession, formatOf } from './export.ts';
export { DELIMITERS, importCsv, isUnit, previewCsv, TIME_FORMATS } from './import/index.ts';
export { openSession } from './session-reader.ts';
export { startJob } from './start-job.ts';
export { verifySession } from './verify.ts';

export type { RecorderOptions } from './recorder.ts';
export type { Exported, ExportFormat, ExportOptions } from './export.ts';
export type { CsvPreview, Delimiter, Imported, ImportOptions, ImportPlan, TimeFormat, ValueColumn } from './import/index.ts';
export type { FolderSpace, Place } from './folders.ts';
export type { Job, JobResults } from './job.ts';
export type { Recovered } from './recover.ts';
export type { RunningJob } from './start-job.ts';
export type { RecordingErrorCode, RecordingTrouble } from './errors.ts';
export type { RecordingSpace } from './space.ts';
export type { Trace } from './session-reader.ts';
export type { Finding, Verification, VerifyOptions } from './verify.ts';
export type { SamplePage } from './shelf.ts';
