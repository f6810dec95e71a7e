/** Long jobs on recordings, and short ones that write to a finished session: what they are, and how each is done. */
import { resolve } from 'node:path';
import type { Note } from '../session/notes.ts';
import type { JudgedAgain } from '../session/judged-again.ts';
import type { SessionInfo } from '../session/session.ts';
import { addSession } from './add-session.ts';
import { type Description, describeSession, keepDocument, keepNote } from './amend.ts';
import type { RecordingErrorCode } from './errors.ts';
import { exportSession } from './export.ts';
import { finishSession } from './finish.ts';
import { importCsv, type ImportOptions, previewCsv } from './import/index.ts';
import { sessionPath } from './names.ts';
import type { Added, CsvPreview, Exported, ExportFormat, FoundByReadings, Imported, ImportPlan, PlanBeginning, Recovered, Verification } from './offers.ts';
import { judgeAgain } from './judge-stored.ts';
import { recoverSession } from './recover.ts';
import { type ResumedSession, resumeSession } from './resume.ts';
import { sessionReport } from './report-session.ts';
import { foundByReadings } from './stored-case.ts';
import { readSession, type SessionReader } from './session-reader.ts';
import { verifySession } from './verify.ts';

/** Each names the folder of the recordings. */
export type Job =
  /** Writes a session to `target`, a path. */
  | { readonly type: 'export'; readonly folder: string; readonly session: string; readonly target: string; readonly format: ExportFormat; readonly take: number | null; readonly meter: number | null }
  | { readonly type: 'preview'; readonly folder: string; readonly file: string; readonly beginning?: PlanBeginning }
  | { readonly type: 'import'; readonly folder: string; readonly file: string; readonly plan: ImportPlan; readonly options: Omit<ImportOptions, 'signal' | 'onProgress'> }
  | { readonly type: 'verify'; readonly folder: string; readonly session: string; readonly reportedHash?: string }
  /** Puts a session file from elsewhere among the recordings. */
  | { readonly type: 'add'; readonly folder: string; readonly file: string }
  /** The stored judgement of an ended take beside the one that its samples give today: reads them all. */
  | { readonly type: 'judge-again'; readonly folder: string; readonly session: string; readonly take: number }
  /** Where the fault lies by the readings. */
  | { readonly type: 'find'; readonly folder: string; readonly session: string }
  /** The report as an HTML page. */
  | { readonly type: 'report'; readonly folder: string; readonly session: string; readonly version: string }
  /** Completes a session that was interrupted. */
  | { readonly type: 'finish'; readonly folder: string; readonly session: string }
  /** What it takes to go on with a session; completes one that was interrupted. */
  | { readonly type: 'resume'; readonly folder: string; readonly session: string }
  /** Brings what can be read of a damaged session into a new one. */
  | { readonly type: 'recover'; readonly folder: string; readonly session: string }
  /** Corrects title, vehicle or complaint of a session that is not being recorded. */
  | { readonly type: 'describe'; readonly folder: string; readonly session: string; readonly change: Description }
  /** Writes one note, changes it, or takes it out; also while the session is being recorded. */
  | { readonly type: 'note'; readonly folder: string; readonly session: string; readonly note: Note }
  /** Keeps a document with a session that is not being recorded: finding, repair. */
  | { readonly type: 'document'; readonly folder: string; readonly session: string; readonly name: string; readonly content: unknown };

export interface JobResults {
  readonly export: Exported;
  readonly preview: CsvPreview;
  readonly import: Imported;
  readonly verify: Verification;
  readonly add: Added;
  readonly 'judge-again': JudgedAgain;
  readonly find: FoundByReadings | null;
  readonly report: string;
  readonly finish: number;
  readonly resume: ResumedSession;
  readonly recover: Recovered;
  readonly describe: SessionInfo;
  readonly document: null;
  readonly note: readonly Note[];
}

export type FromJob =
  | { readonly kind: 'progress'; readonly share: number }
  | { readonly kind: 'done'; readonly result: JobResults[keyof JobResults] }
  | { readonly kind: 'failed'; readonly code: RecordingErrorCode | null; readonly name: string; readonly message: string };

export interface JobControl {
  readonly signal: AbortSignal;
  onProgress(share: number): void;
}

export async function runJob(job: Job, control: JobControl): Promise<JobResults[keyof JobResults]> {
  switch (job.type) {
    case 'preview': return previewCsv(resolve(job.file), job.beginning);
    case 'import': return importCsv(resolve(job.file), job.folder, job.plan, { ...job.options, ...bound(control) });
    case 'export': return withReader(job, (reader) => exportSession(reader, resolve(job.target), { ...job, ...bound(control) }));
    case 'verify': return withReader(job, (reader) => verifySession(reader, { reportedHash: job.reportedHash, ...bound(control) }));
    case 'add': return addSession(resolve(job.file), job.folder, bound(control));
    case 'judge-again': return withReader(job, (reader) => judgeAgain(reader, job.take));
    case 'find': return withReader(job, (reader) => foundByReadings(reader, Date.now()));
    case 'report': return withReader(job, (reader) => sessionReport(reader, { version: job.version, now: Date.now() }));
    case 'finish': return finishSession(sessionPath(job.folder, job.session), Date.now());
    case 'resume': return resumeSession(sessionPath(job.folder, job.session), Date.now());
    case 'recover': return recoverSession(sessionPath(job.folder, job.session), bound(control));
    case 'describe': return describeSession(job.folder, job.session, job.change);
    case 'note': return keepNote(job.folder, job.session, job.note);
    case 'document': return keepDocument(job.folder, job.session, job.name, job.content);
  }
}

const bound = (control: JobControl) => ({ signal: control.signal, onProgress: (share: number) => control.onProgress(share) });

function withReader<Result>({ folder, session }: { folder: string; session: string }, use: (reader: SessionReader) => Result): Result {
  return readSession(sessionPath(folder, session), use);
}
