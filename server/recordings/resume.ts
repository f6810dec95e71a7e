/** What a recorded session holds that is needed to go on with it, in the same file. */
import Database from 'better-sqlite3';
import type { FaultSearch } from '../session/fault-search.ts';
import type { SessionSoFar } from '../session/live-session.ts';
import { readChart } from '../session/chart-validation.ts';
import type { RepairFile } from '../session/repair.ts';
import type { MeterRecord, SessionInfo } from '../session/session.ts';
import { RecordingError } from './errors.ts';
import { completeSession } from './finish.ts';
import { readSession, type SessionReader } from './session-reader.ts';
import { checkRecords } from './verify-records.ts';

export interface ResumedSession extends SessionSoFar {
  readonly info: SessionInfo;
  readonly meters: readonly MeterRecord[];
  readonly documents: Readonly<Record<string, unknown>>;
  /** Session clock, s, of the latest of anything in it. */
  readonly newest: number;
}

/**
 * Completes the session first where it was cut off.
 * @param now  wall time, ms
 * @throws {RecordingError} SESSION_BUSY while a service writes to it; SESSION_IMPORTED; SESSION_DAMAGED, SESSION_NEWER and the like
 */
export function resumeSession(path: string, now: number): ResumedSession {
  const { isFresh, isClosed } = readSession(path, (reader) => {
    if (reader.document('import') !== undefined) {
      throw new RecordingError('SESSION_IMPORTED', 'These readings were brought in from a table, not recorded here: nothing can be added to them. Begin a new session.');
    }
    const [problem] = reader.integrityProblems();
    if (problem !== undefined) throw new RecordingError('SESSION_DAMAGED', `The file is damaged (${problem}): nothing is added to it. Recover what can be read first.`);
    const [changed] = checkRecords(reader).findings;
    // Sealed anew as the session goes on, it would look as if it had always been so.
    if (changed !== undefined) throw new RecordingError('SESSION_DAMAGED', `Something else than Loomtrace changed this session (${changed.where} ${changed.what}): nothing is added to it. "Was it changed?" in the review says more.`);
    return { isFresh: reader.isBeingWritten(now), isClosed: reader.isClosed() };
  });
  if (isFresh && isHeldOpen(path)) throw new RecordingError('SESSION_BUSY', 'This session is being recorded: end it first.');
  if (!isClosed) completeSession(path, 'interrupted');
  return readSession(path, read);
}

function read(reader: SessionReader): ResumedSession {
  const info = reader.info();
  const documents = reader.documents();
  if (documents['chart'] !== undefined && documents['chart'] !== null && readChart(documents['chart']).kind !== 'chart') {
    throw new RecordingError('SESSION_DAMAGED', 'The chart of this session can not be read: it can be looked at, but not gone on with.');
  }
  const takes = reader.takes();
  const marks = reader.marks();
  const { lastSeq, lastUs } = reader.newest();
  const times = [
    ...takes.map(({ take }) => take.end ?? take.start), ...marks.map(({ at }) => at), ...(info.stretches ?? []).map(({ at }) => at), ...timesIn(documents),
  ];
  return {
    info, documents, meters: reader.meters(),
    ended: takes.flatMap(({ take, judgement }) => (judgement === null ? [] : [{ take, judgement }])).reverse(),
    lastTake: takes.reduce((last, { take: { id } }) => Math.max(last, id), 0),
    lastMark: marks.reduce((last, { id }) => Math.max(last, id), 0),
    lastSeq,
    newest: times.reduce((last, at) => Math.max(last, at), lastUs / 1e6),
  };
}

/** Session clock, s, of all that the documents date. */
function timesIn(documents: Readonly<Record<string, unknown>>): number[] {
  const dated = ['cautions', 'reseats', 'battery', 'limits'].flatMap((name) => (documents[name] as readonly { at: number }[] | undefined) ?? []);
  const repair = documents['repair'] as RepairFile | undefined;
  const search = documents['search'] as FaultSearch | undefined;
  return [...dated, ...(repair?.repairs ?? []), ...(search?.loads ?? []), ...(search?.state ? [search.state] : [])].map(({ at }) => at);
}

/**
 * Whether anyone else has the file open, so that a service that died a moment ago is told from one that writes: only a lone
 * connection may take a file out of WAL mode.
 */
function isHeldOpen(path: string): boolean {
  const db = new Database(path, { fileMustExist: true, timeout: 500 });
  try {
    return db.pragma('journal_mode = DELETE', { simple: true }) !== 'delete';
  } catch {
    return true;
  } finally {
    db.close();
  }
}
