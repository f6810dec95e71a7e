/** Names of sessions: file names without folder and ending. */
import { mkdirSync, openSync, closeSync, existsSync } from 'node:fs';
import { join } from 'node:path';
import { RecordingError } from './errors.ts';

export const ENDING = '.sqlite';

/** Letters, digits, space, dot, hyphen, underscore and the like, never starting with a dot: no way out of the folder. */
const NAME = /^[\p{L}\p{N}][\p{L}\p{N} ._()+-]{0,119}$/u;

export function isSessionName(name: string): boolean {
  return NAME.test(name) && !name.endsWith('.') && !name.endsWith(' ') && !name.includes('..');
}

/** @throws {RecordingError} SESSION_BAD_NAME */
export function sessionPath(folder: string, session: string): string {
  if (!isSessionName(session)) throw new RecordingError('SESSION_BAD_NAME', 'No session can have this name.');
  return join(folder, session + ENDING);
}

/**
 * The name for a session that starts now: UTC date and time, with a number when that is taken. Holds the name by an
 * empty file where the folder allows it; where it does not, the writer will say so.
 */
export function reserveName(folder: string, startedAtUs: number): string {
  const stamp = new Date(startedAtUs / 1000).toISOString().slice(0, 19).replaceAll(':', '').replace('T', '-');
  for (let number = 1; ; number++) {
    const name = number === 1 ? stamp : `${stamp}-${number}`;
    const path = sessionPath(folder, name);
    try {
      mkdirSync(folder, { recursive: true });
      closeSync(openSync(path, 'wx'));
      return name;
    } catch {
      if (!existsSync(path)) return name;
    }
  }
}
