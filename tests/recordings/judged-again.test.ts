/** A recording judged again: the same by the same version, and what differs by another one. */
import { copyFileSync, mkdtempSync, rmSync } from 'node:fs';
import { execFileSync } from 'node:child_process';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { ALGORITHM } from '../../server/diagnosis/index.ts';
import type { Judgement } from '../../server/diagnosis/judgement.ts';
import { Library, startJob } from '../../server/recordings/index.ts';
import type { SessionListing } from '../../server/session/session.ts';
import { judgedAgain } from '../../server/session/judged-again.ts';
import { judge } from '../commands/judge-run.ts';
import { judgeShown, quiet } from '../diagnosis/setup.ts';
import { Dashboard, startService } from '../support/service.ts';

const folder = mkdtempSync(join(tmpdir(), 'loomtrace-again-'));
let path = '';

beforeAll(async () => {
  const service = await startService(['--meter', 'simulated:alder7?interval=0.02&seed=3']);
  const dashboard = await Dashboard.open(service.address);
  const check = dashboard.state.checks.find(({ id }) => id === 'ground CL-')!;
  await dashboard.ask({ type: 'start-take', check, watching: 'wiggle', conditionIsMet: true });
  await dashboard.until(() => (dashboard.judgement?.judgement.dropouts.length ?? 0) >= 1, 'a dropout');
  // What is said of the meter while the take runs counts for the whole of it, and has to be in the file.
  await dashboard.ask({ type: 'describe-meter', meter: 0, accuracy: { fraction: 0.03, counts: 9 } });
  for (let flex = 0; flex < 3; flex++) await dashboard.ask({ type: 'flex', count: 2 });
  await dashboard.ask({ type: 'stop-take' });
  const [listing] = (await (await fetch(`${service.address}/api/sessions`)).json()) as SessionListing[];
  const again = (await (await fetch(`${service.address}/api/sessions/${listing!.session}/takes/1/again`)).json()) as object;
  expect(again).toMatchObject({ before: ALGORITHM, now: ALGORITHM, changes: [], differences: [] });
  dashboard.close();
  await service.stop();
  path = join(folder, `${listing!.session}.sqlite`);
  copyFileSync(join(service.recordings, `${listing!.session}.sqlite`), path);
  await service.dispose();
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const storedJudgement = (): Judgement => {
  const db = new Database(path, { readonly: true });
  try {
    return JSON.parse(db.prepare('SELECT judgement FROM takes WHERE take = 1').pluck().get() as string) as Judgement;
  } finally {
    db.close();
  }
};

describe('a take judged live', () => {
  it('comes out the same from its file in this process, and in another one', async () => {
    const library = Library.open({ folder });
    try {
      const [session] = await library.list();
      const again = await startJob({ type: 'judge-again', folder, session: session!.session, take: 1 }).done;
      expect(again.judgement).toEqual(storedJudgement());
      await expect(startJob({ type: 'judge-again', folder, session: session!.session, take: 7 }).done).rejects.toMatchObject({ code: 'TAKE_NOT_FOUND' });
    } finally {
      await library.close();
    }
    const other = JSON.parse(execFileSync('npm', ['run', '--silent', 'loomtrace', '--', 'judge', path, '--json'], { encoding: 'utf8' })) as { takes: { differences: string[]; judgement: { dropouts: object[] } }[] };
    expect(other.takes).toHaveLength(1);
    expect(other.takes[0]!.differences).toEqual([]);
    expect(other.takes[0]!.judgement.dropouts).toHaveLength(storedJudgement().dropouts.length);
  });

  it('that an older version judged is reported as such, with what that version did and what differs', async () => {
    const older = join(folder, 'older.sqlite');
    copyFileSync(path, older);
    const db = new Database(older);
    const judgement = storedJudgement();
    const { dropouts } = judgement;
    db.prepare('UPDATE takes SET judgement = ? WHERE take = 1').run(JSON.stringify({ ...judgement, algorithm: '1', verdict: 'pass', dropouts: dropouts.slice(1) }));
    db.close();
    const { code, out } = await judge(older);
    expect(code).toBe(0);
    expect(out).toContain(`Judged by version 1; this is version ${ALGORITHM}.`);
    expect(out).toContain('Noise and level are learned alike');
    expect(out).toContain('What this meter would have seen here:');
    expect(out).toContain(`The verdict was pass; now it is ${judgement.verdict}.`);
    expect(out).toMatch(/1 dropout more than before: at \d+\.\d\d s\./);
  });

  it('that is no session is refused', async () => {
    expect(await judge(join(folder, 'nothing.sqlite'))).toMatchObject({ code: 2 });
  });
});

describe('judgedAgain(stored, judgement, start)', () => {
  const a = judgeShown(quiet(12, 300).map((v, i) => (i === 100 || i === 200 ? 0 : v)));

  it('says nothing of the same judgement', () => {
    expect(judgedAgain(a, a, 0)).toMatchObject({ changes: [], differences: [] });
  });

  it('says which dropouts are no longer found, on the clock of the take', () => {
    const b = { ...a, dropouts: a.dropouts.slice(0, 1) };
    expect(judgedAgain(a, b, 5).differences).toEqual([`1 dropout no longer found: at ${(a.dropouts[1]!.start - 5).toFixed(2)} s.`]);
  });

  it('a version that nobody knows any more is older than all', () => {
    expect(judgedAgain({ ...a, algorithm: '0' }, a, 0).changes.length).toBe(Number(ALGORITHM) - 1);
  });
});
