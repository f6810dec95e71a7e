/** A folder of its own for a test's recordings, removed when the file's tests are done. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, vi } from 'vitest';

// Real files and processes: a busy machine may take its time.
vi.setConfig({ testTimeout: 180_000 });

const folders: string[] = [];

export function freshFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'loomtrace-test-'));
  folders.push(folder);
  return folder;
}

afterAll(() => {
  for (const folder of folders.splice(0)) rmSync(folder, { recursive: true, force: true });
});
