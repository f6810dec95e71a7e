import { execFileSync } from 'node:child_process';
import { existsSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { Library, Recorder } from '../../server/recordings/index.ts';
import type { RecordingTrouble } from '../../server/recordings/index.ts';
import type { SampleBatch } from '../../server/session/session.ts';
import { freshFolder } from './support/folder.ts';
import { cut, INFO, JUDGEMENT, meterSamples, METER, randomNumbers, strangeSamples, takeRecord } from './support/samples.ts';

const seed = Math.floor(Math.random() * 2 ** 31);

function openRecorder(folder: string) {
  const acknowledged: number[] = [];
  const troubles: RecordingTrouble[] = [];
  const recorder = Recorder.open({
    folder, onAcknowledged: (seq) => acknowledged.push(seq), onTrouble: (trouble) => troubles.push(trouble), onRecovered: () => undefined,
  });
  return { recorder, acknowledged, troubles };
}

/** All samples of a take and meter, read page by page. */
async function allSamples(library: Library, session: string, take: number, meter: number, page: number) {
  const pages = [];
  for (let from = 0; ; from += page) {
    const next = await library.samples(session, take, meter, from, page);
    pages.push(next);
    if (from + next.length >= next.total) return pages;
  }
}

async function expectSame(library: Library, session: string, batch: SampleBatch, page: number): Promise<void> {
  let at = 0;
  for (const samples of await allSamples(library, session, batch.take, batch.meter, page)) {
    for (let i = 0; i < samples.length; i++, at++) {
      const same = samples.seq[i] === batch.firstSeq + at && samples.time[i] === batch.time[at] && samples.arrival[i] === batch.arrival[at]
        && Object.is(samples.value[i], batch.value[at]) && Object.is(samples.resolution[i], batch.resolution[at])
        && samples.flags[i] === batch.flags[at] && samples.functionCode[i] === batch.functionCode[at];
      if (!same) expect.fail(`sample ${at} differs`);
    }
  }
  expect(at).toBe(batch.length);
}

describe('a session', () => {
  it(`comes back with every sample bit for bit, whatever the values, in sealed blocks and before (seed ${seed})`, async () => {
    const folder = freshFolder();
    const { recorder, acknowledged, troubles } = openRecorder(folder);
    const batch = strangeSamples(70_000, randomNumbers(seed));
    const session = recorder.startSession(INFO, [METER]);
    recorder.startTake(takeRecord(1));
    for (let from = 0; from < batch.length; from += 1700) recorder.appendSamples(cut(batch, from, Math.min(batch.length, from + 1700)));
    const library = Library.open({ folder });
    await expect.poll(() => acknowledged.at(-1)).toBe(batch.length);
    await expectSame(library, session, batch, 10_000);
    recorder.endTake(takeRecord(1, { end: 7000, ending: 'stopped' }), JUDGEMENT);
    recorder.endSession();
    await recorder.close();
    await expectSame(library, session, batch, 32_768);
    await library.close();
    expect(troubles).toEqual([]);
  });

  it('holds its records: session, meters, check, takes with verdicts, marks, documents', async () => {
    const folder = freshFolder();
    const { recorder } = openRecorder(folder);
    const session = recorder.startSession(INFO, [METER]);
    recorder.startTake(takeRecord(1));
    recorder.appendSamples(meterSamples(50, randomNumbers(1)));
    recorder.addMark({ id: 1, take: 1, at: 2.5, text: 'bump' });
    recorder.updateInfo({ ...INFO, vehicle: 'Alder 7, no. 2' });
    recorder.updateMeters([{ ...METER, leadOhms: 0.2 }]);
    recorder.putDocument('chart', { circuits: [] });
    const ended = takeRecord(1, { end: 5.1, ending: 'next-check' });
    recorder.endTake(ended, JUDGEMENT);
    await recorder.close();

    const library = Library.open({ folder });
    const [listing, ...others] = await library.list();
    expect(others).toEqual([]);
    expect(listing).toMatchObject({ session, info: { vehicle: 'Alder 7, no. 2' }, takes: 1, state: 'complete', message: '' });
    expect(await library.contents(session)).toEqual({
      info: { ...INFO, vehicle: 'Alder 7, no. 2' },
      meters: [{ ...METER, leadOhms: 0.2 }],
      takes: [{ ...ended, samples: 50, verdict: 'intermittent', judgement: JUDGEMENT }],
      marks: [{ id: 1, take: 1, at: 2.5, text: 'bump' }],
      losses: [],
    });
    expect(await library.document(session, 'chart')).toEqual({ circuits: [] });
    await library.close();
  });

  it('is one file when it is complete, and another SQLite reads it', async () => {
    const folder = freshFolder();
    const { recorder } = openRecorder(folder);
    const session = recorder.startSession(INFO, [METER]);
    recorder.startTake(takeRecord(1));
    recorder.appendSamples(meterSamples(5000, randomNumbers(1)));
    recorder.endTake(takeRecord(1, { end: 500, ending: 'stopped' }), JUDGEMENT);
    await recorder.close();
    expect(readdirSync(folder)).toEqual([`${session}.sqlite`]);
    const shell = (sql: string) => execFileSync('/usr/bin/sqlite3', [join(folder, `${session}.sqlite`), sql], { encoding: 'utf8' }).trim();
    expect(shell('PRAGMA integrity_check')).toBe('ok');
    expect(shell('PRAGMA application_id')).toBe(String(0x4c6f6f6d));
    expect(shell('SELECT vehicle, title FROM session')).toBe('Alder 7|Clutch and lamp die');
    expect(shell('SELECT take, kind, red, black, limit_low, verdict FROM takes')).toBe('1|supply|CL+|B-|11.5|intermittent');
    expect(shell('SELECT kind, start_s, end_s, depth FROM events ORDER BY start_s')).toBe('dropout|3.0|3.1|-2.0\ngap|5.0|7.0|');
    expect(shell('SELECT sum(samples) FROM blocks')).toBe('5000');
    expect(shell('SELECT count(*) FROM tail')).toBe('0');
  });

  it('keeps samples of several meters and takes apart, in the order in which they came', async () => {
    const folder = freshFolder();
    const { recorder } = openRecorder(folder);
    const random = randomNumbers(seed);
    const session = recorder.startSession(INFO, [METER, { ...METER, index: 1 }]);
    const batches: SampleBatch[] = [];
    let seq = 1;
    for (const take of [1, 2]) {
      recorder.startTake(takeRecord(take, { start: take * 100 }));
      for (let round = 0; round < 40; round++) {
        for (const meter of [0, 1]) {
          const batch = meterSamples(1 + Math.floor(random() * 20), random, { meter, take, firstSeq: seq, start: take * 100 + round * 2 });
          seq += batch.length;
          batches.push(batch);
          recorder.appendSamples(batch);
        }
      }
      recorder.appendSamples({ ...meterSamples(3, random, { take: 0, firstSeq: seq }) });
      seq += 3;
      recorder.endTake(takeRecord(take, { start: take * 100, end: take * 100 + 90, ending: 'stopped' }), JUDGEMENT);
    }
    await recorder.close();
    const library = Library.open({ folder });
    for (const take of [1, 2]) {
      for (const meter of [0, 1]) {
        const sent = batches.filter((batch) => batch.take === take && batch.meter === meter);
        const [page] = await allSamples(library, session, take, meter, 100_000);
        expect([...page!.value]).toEqual(sent.flatMap(({ value }) => [...value]));
        expect([...page!.seq]).toEqual(sent.flatMap(({ firstSeq, length }) => Array.from({ length }, (_, i) => firstSeq + i)));
      }
    }
    await library.close();
  });

  it('takes another name when two start in the same second', async () => {
    const folder = freshFolder();
    const { recorder } = openRecorder(folder);
    const names = [recorder.startSession(INFO, [METER]), recorder.startSession(INFO, [METER])];
    await recorder.close();
    expect(names).toEqual(['2026-03-05-101112', '2026-03-05-101112-2']);
    expect(names.every((name) => existsSync(join(folder, `${name}.sqlite`)))).toBe(true);
  });

  it('is listed as recording while it is written, and complete afterwards', async () => {
    const folder = freshFolder();
    const { recorder, acknowledged } = openRecorder(folder);
    recorder.startSession(INFO, [METER]);
    recorder.startTake(takeRecord(1));
    recorder.appendSamples(meterSamples(5, randomNumbers(1)));
    await expect.poll(() => acknowledged.at(-1)).toBe(5);
    const library = Library.open({ folder });
    expect((await library.list()).map(({ state }) => state)).toEqual(['recording']);
    await recorder.close();
    expect((await library.list()).map(({ state }) => state)).toEqual(['complete']);
    await library.close();
  });
});
