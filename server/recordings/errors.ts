/** What can go wrong with recordings, as stable codes with a sentence that says what to do. */

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

/** Why samples are not being saved now, for the user's eyes; the recorder keeps trying. */
export interface RecordingTrouble {
  readonly code: RecordingErrorCode;
  readonly message: string;
  /** Samples that wait in memory. */
  readonly waiting: number;
  /** Samples given up since the trouble began, because memory is bounded. */
  readonly lost: number;
}

/** Names the trouble that an SQLite or file error means. */
export function troubleOf(error: unknown, file: string): RecordingError {
  if (error instanceof RecordingError) return error;
  const code = error instanceof Error && 'code' in error ? String(error.code) : '';
  const cause = { cause: error };
  if (code === 'SQLITE_FULL' || code === 'ENOSPC' || code === 'EDQUOT') {
    return new RecordingError('DISK_FULL', `NOT SAVING: the disk with ${file} is full. Free some space on it; saving goes on by itself.`, cause);
  }
  if (code.startsWith('SQLITE_READONLY') || code === 'EACCES' || code === 'EROFS' || code === 'EPERM') {
    return new RecordingError('FOLDER_READ_ONLY', `NOT SAVING: ${file} may not be written. Give this user the right to write there, or choose another folder with --recordings; saving goes on by itself.`, cause);
  }
  if (code.startsWith('SQLITE_CANTOPEN') || code === 'ENOENT' || code === 'ENOTDIR') {
    return new RecordingError('FOLDER_GONE', `NOT SAVING: the folder of ${file} is gone. Put it back (plug the drive in again); saving goes on by itself.`, cause);
  }
  if (code === 'SQLITE_BUSY' || code === 'SQLITE_LOCKED') {
    return new RecordingError('FILE_BUSY', `NOT SAVING: another program holds ${file} locked. Close it; saving goes on by itself.`, cause);
  }
  const what = error instanceof Error ? error.message : String(error);
  return new RecordingError('DISK_ERROR', `NOT SAVING: ${file} can't be written (${code || 'error'}: ${what}). Check the disk; saving is tried again.`, cause);
}
