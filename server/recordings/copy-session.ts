/**
 * A whole session as one file for somebody else: a consistent copy, also while it is being recorded, complete in itself. In the copy a take
 * that runs ends where it was copied; its chain begins with the same seals.
 */
import Database from 'better-sqlite3';
import { rename, rm } from 'node:fs/promises';
import { basename } from 'node:path';
import type { Exported } from './offers.ts';
import { completeSession } from './finish.ts';

/** @param target  path; a file there is replaced @throws {Error} of the file system or SQLite; nothing is left behind then */
export async function copySession(path: string, target: string): Promise<Exported> {
  const part = `${target}.part`;
  try {
    await rm(part, { force: true });
    const source = new Database(path, { readonly: true, fileMustExist: true, timeout: 5000 });
    try {
      // One read transaction: what the recorder commits meanwhile is not in it, and does not wait for it.
      source.prepare('VACUUM INTO ?').run(part);
    } finally {
      source.close();
    }
    if (isOpen(part)) completeSession(part, 'copied');
    const samples = samplesIn(part);
    await rename(part, target);
    return { samples, files: [basename(target)] };
  } catch (error) {
    await Promise.all(['', '-wal', '-shm'].map((ending) => rm(part + ending, { force: true })));
    throw error;
  }
}

function isOpen(path: string): boolean {
  return ask(path, 'SELECT closed FROM session') !== 1;
}

function samplesIn(path: string): number {
  return ask(path, 'SELECT coalesce(sum(samples), 0) FROM blocks');
}

function ask(path: string, question: string): number {
  const db = new Database(path, { readonly: true });
  try {
    return db.prepare(question).pluck().get() as number;
  } finally {
    db.close();
  }
}
