/**
 * Where sessions lie: the folder itself, `archive` beside them for those that are done with, `.trash` for those thrown away,
 * which can be taken out again until it is emptied. Files are moved, never copied, with their write-ahead logs.
 */
import { existsSync, mkdirSync, readdirSync, renameSync, rmSync, statfsSync, statSync, utimesSync } from 'node:fs';
import { join } from 'node:path';
import { RecordingError } from './errors.ts';
import { ENDING, isSessionName, sessionPath } from './names.ts';
import type { FolderSpace, Place } from './offers.ts';

/** A session file and what stands beside it while it is written or after a crash. */
const PARTS = ['', '-wal', '-shm'] as const;

export function folderOf(recordings: string, place: Place): string {
  return place === 'recordings' ? recordings : join(recordings, place === 'archive' ? 'archive' : '.trash');
}

export function sessionNames(folder: string): string[] {
  try {
    return readdirSync(folder).filter((file) => file.endsWith(ENDING)).map((file) => file.slice(0, -ENDING.length)).filter(isSessionName);
  } catch {
    return [];
  }
}

/** Bytes that a session takes. */
export function sizeOf(path: string): number {
  return PARTS.reduce((sum, part) => sum + (existsSync(path + part) ? statSync(path + part).size : 0), 0);
}

/**
 * Moves a session, under its own name or a free one like it.
 * @returns its name there
 * @throws {RecordingError} SESSION_NOT_FOUND, SESSION_BAD_NAME
 */
export function moveSession(recordings: string, session: string, from: Place, to: Place): string {
  const folder = folderOf(recordings, to);
  mkdirSync(folder, { recursive: true });
  let name = session;
  for (let number = 2; existsSync(sessionPath(folder, name)); number++) name = `${session}-${number}`;
  moveFiles(sessionPath(folderOf(recordings, from), session), sessionPath(folder, name));
  return name;
}

/** @throws {RecordingError} SESSION_EXISTS, SESSION_NOT_FOUND, SESSION_BAD_NAME */
export function renameSession(recordings: string, session: string, name: string): void {
  const target = sessionPath(recordings, name);
  if (existsSync(target)) throw new RecordingError('SESSION_EXISTS', `There is already a session named "${name}".`);
  moveFiles(sessionPath(recordings, session), target);
}

function moveFiles(from: string, to: string): void {
  if (!existsSync(from)) throw new RecordingError('SESSION_NOT_FOUND', 'There is no such session.');
  for (const part of PARTS) if (existsSync(from + part)) renameSync(from + part, to + part);
  // From now on the file's time says when it was moved: the trash goes by it.
  const now = new Date();
  const before = new Date(now.getTime() - 60_000);
  utimesSync(to, now, before);
}

/**
 * Removes for good what lies in the trash.
 * @returns bytes that this freed
 */
export function emptyTrash(recordings: string): number {
  const folder = folderOf(recordings, 'trash');
  return sessionNames(folder).reduce((freed, session) => {
    const path = sessionPath(folder, session);
    const bytes = sizeOf(path);
    for (const part of PARTS) rmSync(path + part, { force: true });
    return freed + bytes;
  }, 0);
}

export function folderSpace(recordings: string): FolderSpace {
  const used = (place: Place) => {
    const folder = folderOf(recordings, place);
    return sessionNames(folder).reduce((sum, session) => sum + sizeOf(sessionPath(folder, session)), 0);
  };
  return { freeBytes: freeBytesOf(recordings), used: { recordings: used('recordings'), archive: used('archive'), trash: used('trash') } };
}

function freeBytesOf(folder: string): number | null {
  try {
    const { bavail, bsize } = statfsSync(folder);
    return bavail * bsize;
  } catch {
    return null;
  }
}
