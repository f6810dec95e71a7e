/** What `judge` prints of a recording, of its table, and what the review shows of it: the same numbers, for every way of watching. */
import { mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { importCommand } from '../../server/commands/import.ts';
import { judgementAsJson } from '../../server/commands/judge-output.ts';
import { exportSession, openSession } from '../../server/recordings/index.ts';
import type { RoadReport } from '../../server/session/road-report.ts';
import type { SessionContents, TakeSummary } from '../../server/session/session.ts';
import { accountOf } from '../../server/session/take-account.ts';
import { zoneReport } from '../../server/session/zone-report.ts';
import { judge, judgeJson, row, table } from '../commands/judge-run.ts';
import { quiet } from '../diagnosis/setup.ts';
import { Dashboard, startService, type StartedService } from '../support/service.ts';

interface Printed { take: number; start_s: number; differences: string[]; judgement: Record<string, unknown> }

const folder = mkdtempSync(join(tmpdir(), 'loomtrace-review-'));
let service: StartedService;
let contents: SessionContents;
let road: RoadReport;
let path = '';
let printed: Printed[];

beforeAll(async () => {
  service = await startService(['--meter', 'simulated:alder7?interval=0.02&aperture=0.012&seed=3']);
  const dashboard = await Dashboard.open(service.address);
  const enough = async (what: string, isEnough: () => boolean): Promise<void> => {
    await dashboard.until(() => dashboard.judgement?.take === dashboard.state.take?.id && isEnough(), what, 60_000);
    await dashboard.ask({ type: 'stop-take' });
    await dashboard.until(() => dashboard.state.take === null, 'the end of the take');
  };
  const start = async (id: string, watching: 'spot' | 'wiggle' | 'road'): Promise<void> => {
    const check = dashboard.state.checks.find((one) => one.id === id)!;
    await dashboard.ask({ type: 'choose', check, watching });
    for (const caution of dashboard.state.cautions) await dashboard.ask({ type: 'acknowledge', caution: caution.id });
    expect(await dashboard.ask({ type: 'start-take', check, watching, conditionIsMet: true })).toMatchObject({ type: 'done' });
  };
  const dropouts = (): number => dashboard.judgement!.judgement.dropouts.length;
  await dashboard.ask({ type: 'simulate', fault: 'splice-flex' });
  await start('ground CL-', 'spot');
  await enough('a steady reading', () => dashboard.judgement!.judgement.steady.length > 0);
  await start('ground CL-', 'wiggle');
  await dashboard.ask({ type: 'flex-zone', zone: dashboard.state.wiggle.zones[1]! });
  await dashboard.ask({ type: 'flex', count: 2 });
  await enough('two dropouts', () => dropouts() >= 2);
  await start('ground CL-', 'road');
  const { clock } = dashboard.state;
  await dashboard.ask({ type: 'motion', channel: 'acceleration', times: Array.from({ length: 20 }, (_, k) => clock + k / 20 - 0.5), values: Array.from({ length: 20 }, (_, k) => k % 7) });
  await dashboard.ask({ type: 'mark', text: 'bump' });
  await enough('a dropout', () => dropouts() >= 1);
  await start('continuity CL- to B-', 'wiggle');
  await enough('readings in ohms', () => dashboard.judgement!.judgement.samples > 100);
  dashboard.close();
  const session = readdirSync(service.recordings).find((name) => name.endsWith('.sqlite'))!.replace('.sqlite', '');
  const get = async <T>(what: string): Promise<T> => (await (await fetch(`${service.address}/api/sessions/${session}${what}`)).json()) as T;
  contents = await get('');
  road = await get('/takes/3/road');
  await service.stop();
  path = join(service.recordings, `${session}.sqlite`);
  printed = (JSON.parse((await judge(path, '--json')).out) as { takes: Printed[] }).takes;
});
afterAll(async () => {
  await service.dispose();
  rmSync(folder, { recursive: true, force: true });
});

const asPrinted = (value: object): unknown => JSON.parse(JSON.stringify(value));

describe('judge and the review', () => {
  it.each([[1, 'spot'], [2, 'wiggle'], [3, 'road'], [4, 'wiggle']] as const)('tell the same of take %i, %s', (id, watching) => {
    const take = contents.takes.find((one) => one.id === id) as TakeSummary;
    expect(take.watching).toBe(watching);
    // As the review works it out from what it was given.
    const zones = zoneReport(take, accountOf(contents.marks.filter((mark) => mark.take === id), take.end!), take.judgement, take.end!);
    expect(zones === null).toBe(id !== 2);
    const { differences, start_s, judgement } = printed[id - 1]!;
    expect({ differences, start_s }).toEqual({ differences: [], start_s: take.start });
    expect(judgement).toEqual(asPrinted(judgementAsJson(take.judgement, { zones, road: id === 3 ? road : null })));
  });

  it('tell the same of a take that was taken out as a table, with motion, too', async () => {
    const reader = openSession(path);
    const [readings, motion, all] = [join(folder, 'readings.csv'), join(folder, 'motion.csv'), join(folder, 'all.csv')];
    await exportSession(reader, readings, { format: 'csv', take: 3, meter: 0 });
    await exportSession(reader, motion, { format: 'csv', take: 3, meter: 240 });
    await exportSession(reader, all, { format: 'csv', take: null, meter: null });
    reader.close();
    const { check, judgement } = contents.takes[2]!;
    const { out, err } = await judge(
      readings, '--kind', 'ground', '--take', 'road', '--high', String(check.limits.high), '--interval', '0.02', '--aperture', '0.012', '--motion', motion,
      '--load-ohms', String(check.load!.ohms), '--supply', String(check.supply ?? 12), '--json',
    );
    expect(err).toBe('');
    const told = JSON.parse(out) as Record<string, unknown>;
    // But for what lies between the last reading and the end of the take, which a table does not have: a gap, a little watched time.
    const { road: ofRecording, ...rest } = printed[2]!.judgement;
    for (const name of ['samples', 'level', 'noise', 'threshold', 'dropouts', 'steady', 'sags', 'shifts', 'shortest_visible_dropout_s', 'sure_dropout_s', 'catching'] as const) {
      expect([name, told[name]]).toEqual([name, rest[name]]);
    }
    expect(judgement.dropouts.length).toBeGreaterThan(0);
    expect((told['road'] as { by_motion: object }).by_motion).not.toBeNull();
    expect(Object.keys((told['road'] as { by_motion: object }).by_motion)).toEqual(Object.keys((ofRecording as { by_motion: object }).by_motion));
    // Takes and meters are not mixed.
    expect(await judge(all)).toMatchObject({ code: 2, err: expect.stringMatching(/^judge: line \d+: take 1 is followed by take 2: judge one take at a time\n$/) as string });
  });

  it('tell the same of a table of amperes and of the session that it was brought in as', async () => {
    const values = quiet(4.2, 400).map((value, i) => row(i, (i >= 200 && i < 203 ? 0 : value).toFixed(2), 'A'));
    const csv = join(folder, 'amperes.csv');
    writeFileSync(csv, table(values));
    const options = ['--kind', 'current', '--take', 'wiggle', '--low', '3', '--accuracy', '1%+3'];
    const silent = { write: () => true };
    expect(await importCommand([csv, '--recordings', folder, '--quiet', ...options], { stdout: silent, stderr: silent })).toBe(0);
    const session = readdirSync(folder).find((name) => name.endsWith('.sqlite'))!;
    const [take] = (JSON.parse((await judge(join(folder, session), '--json')).out) as { takes: Printed[] }).takes;
    const told = await judgeJson(table(values), ...options);
    expect(told).toMatchObject({ quantity: 'current', dropouts: [{ count: 1 }] });
    for (const name of ['samples', 'level', 'noise', 'threshold', 'steady', 'verdict', 'level_verdict', 'shortest_visible_dropout_s', 'claims', 'uncertainty'] as const) {
      expect([name, take!.judgement[name]]).toEqual([name, told[name]]);
    }
  });
});
