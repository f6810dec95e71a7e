/** A real small file system of its own (tmpfs), which can be filled, emptied and made read-only. Needs the right to mount. */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, statfsSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach } from 'vitest';

export interface SmallDisk {
  readonly folder: string;
  /** Leaves this many bytes free. */
  fill(leave: number): void;
  empty(): void;
  remount(how: 'ro' | 'rw'): void;
}

const mounted: string[] = [];

afterEach(() => {
  for (const folder of mounted.splice(0)) {
    execFileSync('umount', ['--lazy', folder]);
    rmSync(folder, { recursive: true, force: true });
  }
});

export function smallDisk(bytes: number): SmallDisk {
  const folder = mkdtempSync(join(tmpdir(), 'loomtrace-disk-'));
  execFileSync('mount', ['-t', 'tmpfs', '-o', `size=${bytes}`, 'tmpfs', folder]);
  mounted.push(folder);
  const filler = join(folder, 'filler');
  return {
    folder,
    fill: (leave) => {
      const { bavail, bsize } = statfsSync(folder);
      try {
        writeFileSync(filler, new Uint8Array(Math.max(0, bavail * bsize - leave)), { flag: 'a' });
      } catch (error) {
        // Someone else wrote in between: full it is.
        if ((error as NodeJS.ErrnoException).code !== 'ENOSPC') throw error;
      }
    },
    empty: () => rmSync(filler, { force: true }),
    remount: (how) => execFileSync('mount', ['-o', `remount,${how}`, folder]),
  };
}

/** Whether this process may mount at all; where not, these tests are skipped and say so. */
export const canMount = ((): boolean => {
  const folder = mkdtempSync(join(tmpdir(), 'loomtrace-disk-'));
  try {
    execFileSync('mount', ['-t', 'tmpfs', '-o', 'size=64k', 'tmpfs', folder], { stdio: 'ignore' });
    execFileSync('umount', [folder]);
    return true;
  } catch {
    return false;
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
})();
