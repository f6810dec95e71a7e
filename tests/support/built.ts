/** Before the tests: builds dashboard and service where a source is younger than what was built, so that no test runs yesterday's code. */
import { execFileSync } from 'node:child_process';
import { readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

const ROOT = fileURLToPath(new URL('../..', import.meta.url));
const BUILT = ['web/dist/index.html', 'server/dist/main.js'];

function changedAt(path: string): number {
  return statSync(join(ROOT, path), { throwIfNoEntry: false })?.mtimeMs ?? 0;
}

export default function build(): void {
  const sources = ['drivers', 'server', 'web'].flatMap((folder) => readdirSync(join(ROOT, folder), { recursive: true, encoding: 'utf8' }).map((file) => join(folder, file)))
    .filter((file) => !/\bdist\b/.test(file));
  const newest = Math.max(...['package-lock.json', ...sources].map(changedAt));
  if (BUILT.some((file) => changedAt(file) < newest)) execFileSync('npm', ['run', '--silent', 'build'], { cwd: ROOT, stdio: 'inherit' });
}
