/** What can go wrong with recordings, as stable codes with a sentence that says what to do. */
import { accessSync, constants, statfsSync } from 'node:fs';
import { dirname } from 'node:path';

export type RecordingErrorCode =
  /** No session of that name. */
  | 'SESSION_NOT_FOUND'
  /** The name is none that a session can have. */
  | 'SESSION_BAD_NAME'
  /** The file can't be read, or parts of it can't. */
  | 'SESSION_DAMAGED'
  /** Saved by a later version. */
  | 'SESSION_NEWER'
  /** An SQLite file of something else. */
  | 'SESSION_FOREIGN'
  /** The session is being recorded: end it first. */
  | 'SESSION_BUSY'
  /** Brought in from a table, not recorded: it can't be gone on with. */
  | 'SESSION_IMPORTED'
  /** There is already a session of that name. */
  | 'SESSION_EXISTS'
  /** No take of that number, or no samples of that meter in it. */
  | 'TAKE_NOT_FOUND'
  /** The disk is full. */
  | 'DISK_FULL'
  /** The folder or the file is gone: unplugged, removed, renamed. */
  | 'FOLDER_GONE'
  /** The folder or file may not be written. */
  | 'FOLDER_READ_ONLY'
  /** Anything else that the disk or SQLite reports. */
  | 'DISK_ERROR'
  /** Something else holds the file locked for long. */
  | 'FILE_BUSY'
  /** The writer itself stopped. */
  | 'WRITER_STOPPED';

export class RecordingError extends Error {
  readonly code: RecordingErrorCode;
  constructor(code: RecordingErrorCode, message: string, options?: ErrorOptions) {
    super(message, options);
    this.code = code;
  }
}

/** What SQLite or the columns report of a file, as an error that names it. */
export function damageOf(error: unknown): Error {
  if (error instanceof RecordingError) return error;
  const code = error instanceof Error && 'code' in error ? String(error.code) : '';
  if (code === 'SQLITE_BUSY') return new RecordingError('FILE_BUSY', 'The file is locked by another program. Close it and try again.', { cause: error });
  if (code === 'SQLITE_NOTADB') return new RecordingError('SESSION_DAMAGED', 'The file is no recording: it is not a database of SQLite, or its beginning is damaged.', { cause: error });
  if (code.startsWith('SQLITE_') || code === 'DAMAGED_BYTES' || error instanceof SyntaxError || error instanceof RangeError) {
    return new RecordingError('SESSION_DAMAGED', `The file is damaged (${(error as Error).message}).`, { cause: error });
  }
  return error instanceof Error ? error : new Error(String(error));
}

/** Why samples are not being saved now, for the user's eyes; the recorder keeps trying. */
export interface RecordingTrouble {
  readonly code: RecordingErrorCode;
  readonly message: string;
  /** Samples that wait in memory. */
  readonly waiting: number;
  /** Samples given up since the trouble began, because memory is bounded. */
  readonly lost: number;
}

/** Below this a disk counts as full, bytes: SQLite reports some shortages as other errors. */
const FULL_BELOW = 65_536;

/** Names the trouble that an SQLite or file error means, by its code and by a look at the disk. */
export function troubleOf(error: unknown, file: string): RecordingError {
  if (error instanceof RecordingError) return error;
  const code = error instanceof Error && 'code' in error ? String(error.code) : '';
  const kind = kindOf(code) ?? kindOfFolder(dirname(file)) ?? 'DISK_ERROR';
  const what = error instanceof Error ? error.message : String(error);
  return new RecordingError(kind, `NOT SAVING: ${sentence(kind, file, `${code || 'error'}: ${what}`)}`, { cause: error });
}

function kindOf(code: string): RecordingErrorCode | null {
  if (code === 'SQLITE_FULL' || code === 'ENOSPC' || code === 'EDQUOT') return 'DISK_FULL';
  if (code === 'SQLITE_READONLY' || code === 'EACCES' || code === 'EROFS' || code === 'EPERM') return 'FOLDER_READ_ONLY';
  if (code === 'ENOENT' || code === 'ENOTDIR') return 'FOLDER_GONE';
  if (code === 'SQLITE_BUSY' || code === 'SQLITE_LOCKED') return 'FILE_BUSY';
  return null;
}

/** Why a folder can't be written to; null when it seems that it can. */
function kindOfFolder(folder: string): RecordingErrorCode | null {
  try {
    accessSync(folder, constants.W_OK);
    const { bavail, bsize } = statfsSync(folder);
    return bavail * bsize < FULL_BELOW ? 'DISK_FULL' : null;
  } catch (error) {
    return kindOf((error as NodeJS.ErrnoException).code ?? '');
  }
}

function sentence(kind: RecordingErrorCode, file: string, what: string): string {
  switch (kind) {
    case 'DISK_FULL': return `the disk with ${file} is full. Free some space on it; saving goes on by itself.`;
    case 'FOLDER_READ_ONLY': return `${file} may not be written. Give this user the right to write there, or choose another folder with --recordings; saving goes on by itself.`;
    case 'FOLDER_GONE': return `the folder of ${file} is gone. Put it back (plug the drive in again); saving goes on by itself.`;
    case 'FILE_BUSY': return `another program holds ${file} locked. Close it; saving goes on by itself.`;
    default: return `${file} can't be written (${what}). Check the disk; saving is tried again.`;
  }
}
