import Database from 'better-sqlite3';
import { closeSync, existsSync, openSync, readdirSync, readFileSync, statSync, writeFileSync, writeSync, copyFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { Library, openSession, startJob, verifySession } from '../../server/recordings/index.ts';
import { copySession } from '../../server/recordings/copy-session.ts';
import { finishSession } from '../../server/recordings/finish.ts';
import { recoverSession } from '../../server/recordings/recover.ts';
import { SessionWriter } from '../../server/recordings/session-writer.ts';
import { canonicalBatch } from '../../server/recordings/stored-samples.ts';
import type { SessionInfo } from '../../server/session/session.ts';
import { freshFolder } from './support/folder.ts';
import { integrityOf, recordAndKill } from './support/kill.ts';
import { cut, INFO, JUDGEMENT, METER, meterSamples, randomNumbers, takeRecord } from './support/samples.ts';

const seed = Math.floor(Math.random() * 2 ** 31);

const LOSS = { firstSeq: 700_000, lastSeq: 700_009, samples: 10, from: 70_000, to: 70_001, why: 'DISK_FULL' };

function save(folder: string, name: string, info: Partial<SessionInfo> = {}, samples = 500, marks: readonly string[] = []): string {
  const path = join(folder, `${name}.sqlite`);
  const writer = new SessionWriter(path, { ...INFO, ...info }, [METER]);
  const batch = meterSamples(samples, randomNumbers(4));
  writer.commit([{ type: 'start-take', take: takeRecord(1) }]);
  for (let from = 0; from < samples; from += 5000) {
    writer.commit([{ type: 'samples', take: 1, meter: 0, bytes: canonicalBatch(cut(batch, from, Math.min(samples, from + 5000))) }]);
    while (writer.sealNext());
  }
  writer.commit([
    ...marks.map((text, i) => ({ type: 'mark' as const, mark: { id: i + 1, take: 1, at: 1, text } })),
    { type: 'end-take', take: takeRecord(1, { end: samples / 10, ending: 'stopped' }), judgement: JUDGEMENT },
    { type: 'loss', loss: LOSS },
  ]);
  writer.finish();
  return path;
}

const names = async (library: Library, search?: string, place?: 'archive' | 'trash') => (await library.list(search, place)).map(({ session }) => session);

describe('the library', () => {
  it('finds sessions by words from vehicle, date, check, verdict, mark and note', async () => {
    const folder = freshFolder();
    save(folder, 'first', { vehicle: 'Alder 7', startedAtUs: Date.UTC(2026, 0, 5) * 1000 }, 50, ['left turn']);
    save(folder, 'second', { vehicle: 'Birch 2', complaint: 'no spark', startedAtUs: Date.UTC(2026, 1, 6) * 1000 }, 50);
    const library = Library.open({ folder });
    await startJob({ type: 'document', folder, session: 'second', name: 'notes', content: { text: 'Green copper at C2' } }).done;
    expect(await names(library)).toEqual(['second', 'first']);
    for (const [search, found] of [['alder', ['first']], ['SPARK', ['second']], ['2026-01', ['first']], ['left turn', ['first']], ['intermittent', ['second', 'first']],
      ['cl+ birch', ['second']], ['green copper', ['second']], ['alder spark', []]] as const) {
      expect(await names(library, search), search).toEqual(found);
    }
    await library.close();
  });

  it('throws away with a way back, archives, renames, frees space', async () => {
    const folder = freshFolder();
    save(folder, 'keep');
    save(folder, 'junk');
    const library = Library.open({ folder });
    expect((await library.contents('junk')).losses).toEqual([LOSS]);
    expect(await library.move('junk', 'recordings', 'trash')).toBe('junk');
    expect([await names(library), await names(library, '', 'trash')]).toEqual([['keep'], ['junk']]);
    save(folder, 'junk');
    expect(await library.move('junk', 'trash', 'recordings')).toBe('junk-2');
    expect((await names(library)).sort()).toEqual(['junk', 'junk-2', 'keep']);
    await library.move('junk', 'recordings', 'trash');
    expect(await library.emptyTrash()).toBeGreaterThan(1000);
    expect(await names(library, '', 'trash')).toEqual([]);
    expect(await library.move('junk-2', 'recordings', 'archive')).toBe('junk-2');
    expect(await names(library, '', 'archive')).toEqual(['junk-2']);
    const { freeBytes, used } = await library.space();
    expect(freeBytes).toBeGreaterThan(0);
    expect(used.recordings).toBe(statSync(join(folder, 'keep.sqlite')).size);
    expect(used.archive).toBeGreaterThan(0);
    expect(used.trash).toBe(0);
    await library.move('junk-2', 'archive', 'recordings');
    await library.rename('junk-2', 'Clutch second try');
    expect((await names(library)).sort()).toEqual(['Clutch second try', 'keep']);
    await expect(library.rename('keep', '../out')).rejects.toMatchObject({ code: 'SESSION_BAD_NAME' });
    await expect(library.move('nothing', 'recordings', 'trash')).rejects.toMatchObject({ code: 'SESSION_NOT_FOUND' });
    await library.close();
  });

  it('corrects title and vehicle, and the seals still hold', async () => {
    const folder = freshFolder();
    const path = save(folder, 'one');
    const described = await startJob({ type: 'describe', folder, session: 'one', change: { vehicle: 'Alder 7 B', title: 'Lamp' } }).done;
    expect(described).toEqual({ ...INFO, vehicle: 'Alder 7 B', title: 'Lamp' });
    const reader = openSession(path);
    expect(reader.info()).toEqual(described);
    expect(verifySession(reader).state).toBe('unchanged');
    reader.close();
  });

  it('leaves a session alone that is being recorded', async () => {
    const folder = freshFolder();
    const writer = new SessionWriter(join(folder, 'live.sqlite'), INFO, [METER]);
    writer.commit([{ type: 'start-take', take: takeRecord(1) }]);
    // As the thread that writes does it.
    const touching = setInterval(() => writer.touch(), 500);
    const library = Library.open({ folder });
    await expect(library.move('live', 'recordings', 'trash')).rejects.toMatchObject({ code: 'SESSION_BUSY' });
    await expect(library.rename('live', 'other')).rejects.toMatchObject({ code: 'SESSION_BUSY' });
    await expect(startJob({ type: 'describe', folder, session: 'live', change: { title: 'x' } }).done).rejects.toMatchObject({ code: 'SESSION_BUSY' });
    await expect(startJob({ type: 'finish', folder, session: 'live' }).done).rejects.toMatchObject({ code: 'SESSION_BUSY' });
    await library.close();
    clearInterval(touching);
    writer.finish();
  });

  it('lists what is no session, or damaged, or of a later version, with the reason', async () => {
    const folder = freshFolder();
    writeFileSync(join(folder, 'text.sqlite'), 'this is a text, and no database at all'.repeat(100));
    writeFileSync(join(folder, 'empty.sqlite'), '');
    const foreign = new Database(join(folder, 'foreign.sqlite'));
    foreign.exec('CREATE TABLE something (x)');
    foreign.close();
    const later = new Database(save(folder, 'later'));
    later.pragma('user_version = 99');
    later.close();
    const library = Library.open({ folder });
    const messages = Object.fromEntries((await library.list()).map(({ session, state, message }) => [session, `${state}: ${message}`]));
    expect(messages.text).toMatch(/^damaged: The file is no recording: it is not a database/);
    expect(messages.empty).toMatch(/^damaged: .*empty/);
    expect(messages.foreign).toMatch(/^damaged: .*not one of a Loomtrace session/);
    expect(messages.later).toMatch(/^damaged: .*later version/);
    await library.close();
  });
});

describe('finish', () => {
  it(`completes a killed session: sealed, verified, its open take interrupted and judged, nothing lost (seed ${seed})`, async () => {
    const folder = freshFolder();
    const left = await recordAndKill({ folder, meters: 2, batch: 500, everyMs: 5, takeLength: 60_000, killAfterMs: 1500 });
    const path = join(folder, '2026-03-05-101112.sqlite');
    finishSession(path, Date.now() + 3600_000);
    const reader = openSession(path);
    const stored = reader.takes().flatMap(({ take }) => reader.metersOf(take.id).map((meter) => reader.samples(take.id, meter, 0, Infinity).length));
    expect(stored.reduce((sum, n) => sum + n, 0)).toBe(left.stored);
    expect(reader.isClosed()).toBe(true);
    expect(reader.takes().every(({ judgement }) => judgement !== null)).toBe(true);
    expect(reader.takes().at(-1)!.take.ending).toMatch(/interrupted|next-check/);
    expect(verifySession(reader)).toMatchObject({ state: 'unchanged', findings: [], unsealedSamples: 0, sealedSamples: left.stored });
    reader.close();
    expect(existsSync(`${path}-wal`)).toBe(false);
  });

  it('goes on with the overview where the crash left it', async () => {
    const folder = freshFolder();
    const n = 32_768 * 9 + 777;
    const whole = save(folder, 'whole', {}, n);
    const path = join(folder, 'torn.sqlite');
    const writer = new SessionWriter(path, INFO, [METER]);
    const batch = meterSamples(n, randomNumbers(4));
    writer.commit([{ type: 'start-take', take: takeRecord(1) }]);
    for (let from = 0; from < n; from += 50_000) {
      writer.commit([{ type: 'samples', take: 1, meter: 0, bytes: canonicalBatch(cut(batch, from, Math.min(n, from + 50_000))) }]);
      if (from < 200_000) while (writer.sealNext());
    }
    writer.abandon();
    finishSession(path, Date.now() + 3600_000);
    const [a, b] = [openSession(whole), openSession(path)];
    expect(b.overviewChunks(1, 0)).toEqual(a.overviewChunks(1, 0));
    expect(verifySession(b).findings).toEqual([]);
    a.close();
    b.close();
  });
});

describe('recover', () => {
  const n = 32_768 * 4 + 5000;
  const original = save(freshFolder(), 'original', {}, n, ['bump']);

  function damaged(damage: (file: number, size: number) => void): string {
    const path = join(freshFolder(), 'hurt.sqlite');
    copyFileSync(original, path);
    const file = openSync(path, 'r+');
    damage(file, statSync(path).size);
    closeSync(file);
    return path;
  }

  function readBack(path: string, session: string) {
    const reader = openSession(join(path, '..', `${session}.sqlite`));
    const stored = reader.samples(1, 0, 0, Infinity);
    const sent = meterSamples(n, randomNumbers(4));
    const index = new Map(Array.from(sent.time, (time, i) => [Math.round(time * 1e6), i]));
    const isTrue = stored.timeUs.every((time, i) => Object.is(sent.value[index.get(time)!], stored.value[i]));
    const result = { n: stored.length, isTrue, verification: verifySession(reader), takes: reader.takes(), marks: reader.marks(), info: reader.info(), losses: reader.losses() };
    reader.close();
    return result;
  }

  it('brings everything back when only the first page was overwritten', () => {
    const path = damaged((file) => writeSync(file, Buffer.alloc(1024, 0x55), 0, 1024, 0));
    const { session, samples, unreadable } = recoverSession(path);
    expect({ session, samples, unreadable }).toEqual({ session: 'hurt-recovered', samples: n, unreadable: 0 });
    const back = readBack(path, session);
    expect(back).toMatchObject({ n, isTrue: true, info: INFO, marks: [{ text: 'bump' }], losses: [LOSS] });
    expect(back.takes[0]!.judgement).toEqual(JUDGEMENT);
    expect(back.verification.state).toBe('unchanged');
  });

  it.each([
    ['a file of the first version', (path: string) => copyFileSync(new URL('../../recordings/demo.sqlite', import.meta.url), path)],
    ['a copy', async (path: string) => void (await copySession(original, path))],
  ])('and of %s', async (_name, make) => {
    const path = join(freshFolder(), 'old.sqlite');
    await make(path);
    const whole = openSession(path);
    const before = whole.takes().map(({ take, judgement }) => ({ take, judgement, samples: [...whole.samples(take.id, take.meter, 0, Infinity).value] }));
    const documents = whole.documents();
    whole.close();
    const file = openSync(path, 'r+');
    writeSync(file, Buffer.alloc(1024, 0x55), 0, 1024, 0);
    closeSync(file);
    const { session } = recoverSession(path);
    const back = openSession(join(path, '..', `${session}.sqlite`));
    expect(back.takes().map(({ take, judgement }) => ({ take, judgement, samples: [...back.samples(take.id, take.meter, 0, Infinity).value] }))).toEqual(before);
    expect(back.documents()).toMatchObject(documents);
    expect(verifySession(back)).toMatchObject({ state: 'unchanged', unsealedRecords: [] });
    back.close();
  });

  it('loses only the block that a damaged page belongs to, and judges the rest anew', () => {
    const path = damaged((file, size) => writeSync(file, Buffer.alloc(1024, 0x55), 0, 1024, Math.floor(size / 1024 / 2) * 1024));
    expect(integrityOf(path) === 'ok' && verifyState(path) === 'unchanged').toBe(false);
    const { session, samples } = recoverSession(path);
    expect(samples).toBeLessThan(n);
    expect(samples).toBeGreaterThanOrEqual(n - 2 * 32_768);
    const back = readBack(path, session);
    expect(back).toMatchObject({ n: samples, isTrue: true });
    expect(back.verification.state).toBe('unchanged');
    expect(back.takes[0]!.judgement!.samples).toBe(samples);
  });

  function verifyState(path: string): string {
    try {
      const reader = openSession(path);
      try {
        return verifySession(reader).state;
      } finally {
        reader.close();
      }
    } catch {
      return 'unreadable';
    }
  }

  it(`never gives a sample that was not recorded, wherever bytes are damaged (30 places, seed ${seed})`, () => {
    const random = randomNumbers(seed);
    let saved = 0;
    for (let round = 0; round < 30; round++) {
      const path = damaged((file, size) => {
        for (let hole = 0; hole < 3; hole++) {
          const length = 1 + Math.floor(random() * 3000);
          writeSync(file, Buffer.from(Array.from({ length }, () => Math.floor(random() * 256))), 0, length, Math.floor(random() * size));
        }
      });
      let recovered;
      try {
        recovered = recoverSession(path);
      } catch (error) {
        expect(error).toMatchObject({ code: 'SESSION_DAMAGED' });
        continue;
      }
      saved += recovered.samples;
      expect(readBack(path, recovered.session).isTrue, `round ${round}`).toBe(true);
    }
    expect(saved).toBeGreaterThan(0);
  });

  it('refuses a file of which nothing can be read, and leaves no new one', () => {
    const folder = freshFolder();
    const path = join(folder, 'text.sqlite');
    writeFileSync(path, 'no database');
    expect(() => recoverSession(path)).toThrow(expect.objectContaining({ code: 'SESSION_DAMAGED' }));
    expect(readdirSync(folder)).toEqual(['text.sqlite']);
  });
});

describe('a job in its own thread', () => {
  it.runIf(process.platform === 'linux')('leaves the processor to meters and recorder: it alone has a lower priority', async () => {
    const folder = freshFolder();
    save(folder, 'one', {}, 100_000);
    // proc(5), /proc/pid/task/tid/stat: the 19th field is the nice value.
    const niceOf = (task: string): number[] => {
      try {
        return [Number(readFileSync(`/proc/self/task/${task}/stat`, 'utf8').split(') ')[1]!.split(' ')[16])];
      } catch {
        // It ended meanwhile.
        return [];
      }
    };
    const nices = () => readdirSync('/proc/self/task').flatMap(niceOf);
    const before = nices();
    let during: number[] = [];
    await startJob({ type: 'verify', folder, session: 'one' }, () => { during = nices(); }).done;
    const own = Math.max(...before);
    expect(during.filter((nice) => nice > own).length).toBe(1);
  });

  it('tells its progress and gives its result, or its error with the code', async () => {
    const folder = freshFolder();
    save(folder, 'one', {}, 100_000);
    const shares: number[] = [];
    const target = join(freshFolder(), 'out.csv');
    const { samples } = await startJob({ type: 'export', folder, session: 'one', target, format: 'csv', take: null, meter: null }, (share) => shares.push(share)).done;
    expect(samples).toBe(100_000);
    expect(shares.at(-1)).toBe(1);
    const { plan } = await startJob({ type: 'preview', folder, file: target }).done;
    const imported = await startJob({ type: 'import', folder, file: target, plan, options: { nowUs: 1e15 } }).done;
    expect(imported.samples).toBe(100_000);
    expect((await startJob({ type: 'verify', folder, session: imported.session }).done).state).toBe('unchanged');
    await expect(startJob({ type: 'verify', folder, session: 'nothing' }).done).rejects.toMatchObject({ code: 'SESSION_NOT_FOUND' });
  });

  it('can be cancelled', async () => {
    const folder = freshFolder();
    save(folder, 'one', {}, 300_000);
    const target = join(freshFolder(), 'out.csv');
    const job = startJob({ type: 'export', folder, session: 'one', target, format: 'csv', take: null, meter: null }, () => job.cancel());
    await expect(job.done).rejects.toMatchObject({ name: 'AbortError' });
    expect(existsSync(target)).toBe(false);
    const verifying = startJob({ type: 'verify', folder, session: 'one' }, () => verifying.cancel());
    await expect(verifying.done).rejects.toMatchObject({ name: 'AbortError' });
    const recovering = startJob({ type: 'recover', folder, session: 'one' }, () => recovering.cancel());
    await expect(recovering.done).rejects.toMatchObject({ name: 'AbortError' });
    expect(readdirSync(folder)).toEqual(['one.sqlite']);
  });
});
