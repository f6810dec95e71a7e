/** Small files that only this user may read, replaced as a whole. */
import { chmodSync, mkdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { SharingError } from './sharing-error.ts';

/** @returns null when there is no such file. A file that others could read is closed to them. */
export function readPrivateFile(folder: string, name: string): string | null {
  const path = join(folder, name);
  try {
    const text = readFileSync(path, 'utf8');
    chmodSync(path, 0o600);
    return text;
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return null;
    throw unusable(path, error);
  }
}

export function writePrivateFile(folder: string, name: string, text: string): void {
  const path = join(folder, name);
  const fresh = `${path}.new`;
  try {
    mkdirSync(dirname(folder), { recursive: true });
    mkdirSync(folder, { recursive: true, mode: 0o700 });
    rmSync(fresh, { force: true });
    writeFileSync(fresh, text, { mode: 0o600, flag: 'wx' });
    // A crash leaves the old file or the new one, never half of one.
    renameSync(fresh, path);
  } catch (error) {
    throw unusable(path, error);
  }
}

function unusable(path: string, error: unknown): SharingError {
  return new SharingError('SETTINGS_UNUSABLE', `${path} can't be used (${(error as Error).message}). Give this user the right to read and write there, or mend the disk.`, { cause: error });
}
