/** A session that is gone on with, by the real service: after it was killed, and after it was ended. */
import { execFileSync } from 'node:child_process';
import { copyFileSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { judgeAgain, openSession } from '../../server/recordings/index.ts';
import { proofOf } from '../../server/session/proof.ts';
import type { SessionContents } from '../../server/session/session.ts';
import { Dashboard, startService, type StartedService } from '../support/service.ts';

const METER = 'simulated:alder7?interval=0.01&aperture=0.01&accuracy=0.5%25%2B2&seed=3';
const OTHER = 'simulated:alder7?interval=0.02&seed=9';

let service: StartedService;
let one: Dashboard;
let file: string;
beforeAll(async () => {
  service = await startService(['--meter', METER]);
  one = await Dashboard.open(service.address);
});
afterAll(() => service?.dispose());

const path = (): string => join(service.recordings, `${file}.sqlite`);

async function restart(signal: NodeJS.Signals, meters: readonly string[]): Promise<void> {
  one.close();
  await service.stop(signal);
  service = await startService(meters.flatMap((meter) => ['--meter', meter]), service.recordings);
  one = await Dashboard.open(service.address);
  await one.until(() => one.state.offer !== null, 'the offer to go on');
}

/** A wiggle take of the check at hand with so many flexes, until `isOver`. */
async function wiggle(flexes: number, isOver: () => boolean): Promise<void> {
  const before = one.state.ended.length;
  await one.ask({ type: 'start-take', check: one.state.check, watching: 'wiggle', conditionIsMet: true });
  await one.ask({ type: 'flex', count: flexes });
  await one.until(() => one.state.take !== null && one.judgement?.take === one.state.take.id && isOver(), 'what the take is for', 60_000);
  await one.ask({ type: 'stop-take' });
  await one.until(() => one.state.ended.length === before + 1, 'the end of the take');
}

/** Of the takes in the file, when all that ended are in it. */
async function stored(): Promise<SessionContents> {
  const read = async () => (await (await fetch(`${service.address}/api/sessions/${file}`)).json()) as SessionContents;
  await expect.poll(async () => (await read()).takes.filter(({ end }) => end !== null).length).toBe(one.state.ended.length);
  return read();
}

/** All that is sealed of the takes made so far. */
function sealed(): unknown[] {
  const db = new Database(path(), { readonly: true });
  try {
    return db.prepare('SELECT position, kind, take, meter, first_sample, hex(chain_hash) AS hash FROM seals ORDER BY position').all();
  } finally {
    db.close();
  }
}

describe('after the service was killed', () => {
  it('the session that it recorded is offered at once, and goes on in its file with all that it held', { timeout: 90_000 }, async () => {
    await one.ask({ type: 'simulate', fault: 'splice-flex' });
    await one.ask({ type: 'describe', vehicle: 'Orchard platform' });
    await wiggle(10, () => one.judgement!.judgement.dropouts.length >= 2);
    await one.ask({ type: 'note-finding', basedOn: one.state.repair.revision, text: 'Crimp at S3 loose.' });
    file = one.state.recording.file!;
    await one.ask({ type: 'start-take', check: one.state.check, watching: 'spot' });
    await one.ask({ type: 'mark', text: 'cut off' });
    await one.until(() => one.judgement?.take === 2 && one.judgement.judgement.samples > 50, 'readings');
    const { session, clock } = one.state;
    await restart('SIGKILL', [METER]);
    expect(one.state.offer).toMatchObject({ session: file, info: { id: session.id, vehicle: 'Orchard platform' }, takes: 2 });

    expect(await one.ask({ type: 'go-on', session: file })).toMatchObject({ type: 'done' });
    await one.until(() => one.state.session.id === session.id, 'the session of before');
    expect(one.state).toMatchObject({
      offer: null, recording: { file, state: 'idle' }, session: { vehicle: 'Orchard platform', startedAtUs: session.startedAtUs }, repair: { finding: 'Crimp at S3 loose.' },
      chart: { isOwn: false }, ended: [{ take: { id: 2, ending: 'interrupted' } }, { take: { id: 1 }, verdict: 'intermittent' }],
    });
    const [stretch] = one.state.session.stretches!;
    expect(stretch!.at).toBeGreaterThan(clock - 0.5);
    expect(one.state.clock).toBeGreaterThanOrEqual(stretch!.at);
    expect(await one.ask({ type: 'go-on', session: file })).toMatchObject({ type: 'refused', code: 'SESSION_AT_HAND' });
  });

  it('a repair is proved by a take of now against the take of then, and the report shows both', async () => {
    const before = sealed();
    await one.ask({ type: 'simulate', fault: 'none' });
    await one.ask({ type: 'choose', check: one.state.ended[1]!.take.check, watching: 'wiggle' });
    await one.ask({ type: 'note-repair', basedOn: one.state.repair.revision, text: 'Crimp made new.', place: 'S3' });
    await wiggle(100, () => one.judgement!.judgement.verdict === 'pass');
    const { takes, marks } = await stored();
    expect(takes.map(({ id, ending }) => [id, ending])).toEqual([[1, 'stopped'], [2, 'interrupted'], [3, 'stopped']]);
    const condition = one.state.check.condition;
    expect(marks.map(({ id, take, text }) => [id, take, text])).toEqual([[1, 1, condition], [2, 1, '10 flexes'], [3, 2, 'cut off'], [4, 3, condition], [5, 3, '100 flexes']]);
    expect(proofOf(takes, one.state.repair.repairs)).toMatchObject({ state: 'proved', rows: [{ before: { id: 1 }, after: { id: 3 } }] });
    expect(sealed().slice(0, before.length)).toEqual(before);
    const report = await (await fetch(`${service.address}/api/sessions/${file}/report`)).text();
    for (const words of ['Repaired and proved.', 'Crimp made new.', 'Gone on with']) expect(report).toContain(words);
  });
});

describe('after it was ended', () => {
  it('it goes on with meters in another order: each instrument keeps the number that it has in the file', async () => {
    await restart('SIGTERM', [OTHER, METER]);
    expect(one.state.meters.map(({ index, address }) => [index, address])).toEqual([[0, OTHER], [1, METER]]);
    const before = sealed();
    expect(await one.ask({ type: 'go-on', session: file })).toMatchObject({ type: 'done' });
    await one.until(() => one.state.recording.file === file, 'the session');
    expect(one.state.meters.map(({ index, address }) => [index, address]).sort()).toEqual([[0, METER], [1, OTHER]]);
    expect(one.state.judgedMeter).toBe(1);
    await one.ask({ type: 'judge-by', meter: 0 });
    one.frames.length = 0;
    await wiggle(1, () => one.judgement!.judgement.samples > 50);
    expect(new Set(one.frames.filter(({ take }) => take === 4).map(({ meter }) => meter))).toEqual(new Set([0, 1]));
    await one.ask({ type: 'new-session' });
    await expect.poll(() => openedClosed()).toBe(true);
    expect(sealed().slice(0, before.length)).toEqual(before);
    const reader = openSession(path());
    try {
      const columns = reader.takes().flatMap(({ take: { id } }) => reader.metersOf(id).map((meter) => reader.samples(id, meter, 0, Infinity)));
      const numbers = columns.flatMap(({ seq }) => Array.from(seq)).sort((a, b) => a - b);
      expect(new Set(numbers).size).toBe(numbers.length);
      const [first, , third] = reader.takes().map(({ take: { id } }) => reader.samples(id, 0, 0, Infinity));
      expect(third!.timeUs[0]).toBeGreaterThan(first!.timeUs.at(-1)!);
      expect(reader.takes().map(({ take: { id } }) => judgeAgain(reader, id).differences)).toEqual([[], [], [], []]);
    } finally {
      reader.close();
    }
    const said = execFileSync(process.execPath, ['--import', 'tsx', 'server/main.ts', 'verify', path()], { encoding: 'utf8' });
    expect(said).toContain('unchanged since it was sealed');
  });

  it.each([
    ['imported', 'SESSION_IMPORTED', (db: Database.Database) => db.exec(`INSERT INTO documents VALUES ('import', '{}')`)],
    ['newer', 'SESSION_NEWER', (db: Database.Database) => db.pragma('user_version = 99')],
    ['without-chart', 'SESSION_DAMAGED', (db: Database.Database) => db.exec(`UPDATE documents SET content = '{"name":1}' WHERE name = 'chart'`)],
  ])('one that is %s is refused with %s', async (name, code, change) => {
    const copy = join(service.recordings, `${name}.sqlite`);
    copyFileSync(path(), copy);
    const db = new Database(copy);
    change(db);
    db.close();
    const was = readFileSync(copy);
    expect(await one.ask({ type: 'go-on', session: name })).toMatchObject({ type: 'refused', code });
    expect(readFileSync(copy).equals(was)).toBe(true);
  });

  it('one that is damaged is refused, and so is any while a take runs', async () => {
    const bytes = readFileSync(path());
    bytes.fill(0x5a, 1024 * 8, 1024 * 12);
    writeFileSync(join(service.recordings, 'damaged.sqlite'), bytes);
    expect(await one.ask({ type: 'go-on', session: 'damaged' })).toMatchObject({ type: 'refused', code: 'SESSION_DAMAGED' });
    await one.ask({ type: 'start-take', check: one.state.check, watching: 'spot' });
    expect(await one.ask({ type: 'go-on', session: file })).toMatchObject({ type: 'refused', code: 'TAKE_RUNS' });
    await one.ask({ type: 'stop-take' });
  });
});

function openedClosed(): boolean {
  const reader = openSession(path());
  try {
    return reader.isClosed();
  } finally {
    reader.close();
  }
}
