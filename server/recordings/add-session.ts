/**
 * A session file from elsewhere, put among one's own. It comes from outside: before anything else reads it, it must be a whole session file of ours with
 * our tables and nothing that runs by itself, and its seals must hold.
 */
import Database from 'better-sqlite3';
import { closeSync, copyFileSync, existsSync, openSync, readSync, renameSync, rmSync } from 'node:fs';
import { RecordingError } from './errors.ts';
import { reserveName, sessionPath } from './names.ts';
import type { Added, Following } from './offers.ts';
import { readSession } from './session-reader.ts';
import { schemaObjects, schemaVersion } from './schema.ts';
import { verifySession } from './verify.ts';
import { sessionNames } from './folders.ts';

/**
 * @param file  path of the file to be added; it stays where it is
 * @throws {RecordingError} SESSION_FOREIGN, SESSION_NEWER, SESSION_DAMAGED; SESSION_EXISTS when the same state of it is here already; AbortError when it was stopped
 */
export function addSession(file: string, folder: string, options: Following = {}): Added {
  refuseForeignTables(file);
  return readSession(file, (reader) => {
    const info = reader.info();
    if (!reader.isClosed()) throw new RecordingError('SESSION_BUSY', 'This copy was taken by hand while the session was being recorded. Save it with "Whole session as one file", which makes it complete, and bring that in.');
    const { state, findings, hash } = verifySession(reader, options);
    const twin = sessionNames(folder).find((name) => isSame(sessionPath(folder, name), info.id, hash));
    if (twin !== undefined) throw new RecordingError('SESSION_EXISTS', `This session is here already, as "${twin}".`);
    const session = reserveName(folder, info.startedAtUs);
    const path = sessionPath(folder, session);
    // Under its name only when it is whole, whatever ends this process meanwhile.
    try {
      copyFileSync(file, `${path}.part`);
      renameSync(`${path}.part`, path);
    } catch (error) {
      for (const left of [path, `${path}.part`]) rmSync(left, { force: true });
      throw error;
    }
    return { added: session, takes: reader.takeCount(), isUnchanged: state === 'unchanged', findings };
  });
}

/** Whether a file begins like an SQLite database (SQLite file format, 1.3.1): no table of readings does. */
export function isSessionFile(path: string): boolean {
  if (!existsSync(path)) return false;
  const start = Buffer.alloc(16);
  const file = openSync(path, 'r');
  try {
    readSync(file, start, 0, 16, 0);
  } finally {
    closeSync(file);
  }
  return start.toString('latin1') === 'SQLite format 3\0';
}

/** Triggers and views run when a table is used: our files have none, and no tables but ours. */
function refuseForeignTables(file: string): void {
  if (!existsSync(file)) throw new RecordingError('SESSION_NOT_FOUND', 'There is no such file.');
  let strange: string | undefined;
  try {
    const db = new Database(file, { readonly: true, fileMustExist: true });
    try {
      const own = schemaObjects(schemaVersion(db));
      const found = db.prepare("SELECT type, name, sql FROM sqlite_schema WHERE name NOT LIKE 'sqlite~_%' ESCAPE '~'").all() as { type: string; name: string; sql: string }[];
      strange = found.find(({ type, name, sql }) => own.get(`${type} ${name}`) !== sql)?.name;
    } finally {
      db.close();
    }
  } catch (error) {
    if (error instanceof RecordingError) throw error;
    throw new RecordingError('SESSION_FOREIGN', 'This is no session file of Loomtrace.', { cause: error });
  }
  if (strange !== undefined) throw new RecordingError('SESSION_FOREIGN', `This file holds "${strange}", which no session file has: it is not brought in.`);
}

function isSame(path: string, id: string, hash: string | null): boolean {
  try {
    return readSession(path, (reader) => {
      const last = reader.seals().at(-1);
      return reader.info().id === id && (last === undefined ? null : Buffer.from(last.chainHash).toString('hex')) === hash;
    });
  } catch {
    return false;
  }
}
