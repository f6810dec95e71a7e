/** Short changes to a stored session: its description, a document, a note. Each is sealed with the writing, as what was said later. */
import Database from 'better-sqlite3';
import { NOTES, notesOf, withNote, type Note } from '../session/notes.ts';
import type { SessionInfo } from '../session/session.ts';
import { RecordingError } from './errors.ts';
import { sessionPath } from './names.ts';
import { migrate, SCHEMA_VERSION } from './schema.ts';
import { SealChain } from './seal-chain.ts';
import { readSession } from './session-reader.ts';

export type Description = Partial<Pick<SessionInfo, 'title' | 'vehicle' | 'complaint'>>;

/** @throws {RecordingError} SESSION_BUSY while it is recorded; SESSION_DAMAGED when the description is not as it was sealed */
export function describeSession(folder: string, session: string, { title, vehicle, complaint }: Description): SessionInfo {
  return amend(folder, session, 'when-finished', (db, chain) => {
    const before = db.prepare('SELECT record FROM session').pluck().get() as string;
    chain.refuseChanged('session', '', before);
    const info = JSON.parse(before) as SessionInfo;
    const described = { ...info, title: title ?? info.title, vehicle: vehicle ?? info.vehicle, complaint: complaint ?? info.complaint };
    const text = JSON.stringify(described);
    db.prepare('UPDATE session SET record = ?').run(text);
    chain.sealRecord('session', '', text);
    return described;
  });
}

/** @throws {RecordingError} SESSION_BUSY while it is recorded; SESSION_DAMAGED when the document is not as it was sealed */
export function keepDocument(folder: string, session: string, name: string, content: unknown): null {
  return amend(folder, session, 'when-finished', (db, chain) => {
    chain.refuseChanged('document', name, storedDocument(db, name));
    putDocument(db, chain, name, content);
    return null;
  });
}

/** Also while the session is being recorded. @throws {RecordingError} SESSION_DAMAGED when the notes are not as they were sealed */
export function keepNote(folder: string, session: string, note: Note): readonly Note[] {
  return amend(folder, session, 'always', (db, chain) => {
    const stored = storedDocument(db, NOTES);
    chain.refuseChanged('document', NOTES, stored);
    const notes = withNote(notesOf(stored === null ? [] : JSON.parse(stored)), note);
    putDocument(db, chain, NOTES, notes);
    return notes;
  });
}

function storedDocument(db: Database.Database, name: string): string | null {
  return (db.prepare('SELECT content FROM documents WHERE name = ?').pluck().get(name) as string | undefined) ?? null;
}

function putDocument(db: Database.Database, chain: SealChain, name: string, content: unknown): void {
  const text = JSON.stringify(content);
  db.prepare('INSERT INTO documents (name, content) VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET content = excluded.content').run(name, text);
  chain.sealRecord('document', name, text);
}

/** What the recorder writes too may be changed only while it does not. */
function amend<Result>(folder: string, session: string, when: 'when-finished' | 'always', write: (db: Database.Database, chain: SealChain) => Result): Result {
  const path = sessionPath(folder, session);
  // Says what is wrong with a file that is missing, damaged or of something else.
  readSession(path, (reader) => {
    const isOurs = when === 'always' && reader.version === SCHEMA_VERSION;
    if (!isOurs && reader.isBeingWritten(Date.now())) throw new RecordingError('SESSION_BUSY', 'This session is being recorded: end it first.');
  });
  const db = new Database(path, { fileMustExist: true, timeout: 2000 });
  try {
    db.pragma('synchronous = FULL');
    return db.transaction(() => {
      migrate(db);
      return write(db, new SealChain(db));
    }).immediate();
  } finally {
    db.close();
  }
}
