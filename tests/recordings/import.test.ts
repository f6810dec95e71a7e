import { readdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { Flag } from '../../drivers/reading.ts';
import { importCommand } from '../../server/commands/import.ts';
import { exportSession, importCsv, openSession, previewCsv } from '../../server/recordings/index.ts';
import type { ImportPlan, ImportOptions, TimeFormat } from '../../server/recordings/index.ts';
import { readTime } from '../../server/recordings/import/time-format.ts';
import { sessionPath } from '../../server/recordings/names.ts';
import { SessionWriter } from '../../server/recordings/session-writer.ts';
import { canonicalBatch } from '../../server/recordings/stored-samples.ts';
import { judgeStored } from '../../server/recordings/judge-stored.ts';
import { freshFolder } from './support/folder.ts';
import type { SampleBatch } from '../../server/session/session.ts';
import { INFO, JUDGEMENT, METER, meterSamples, randomNumbers, strangeSamples, takeRecord } from './support/samples.ts';

const seed = Math.floor(Math.random() * 2 ** 31);
const NOW_US = Date.UTC(2026, 0, 2) * 1000;

function fileOf(text: string | Buffer): string {
  const path = join(freshFolder(), 'table.csv');
  writeFileSync(path, text);
  return path;
}

/** Imports as guessed, but for `change`. */
async function imported(text: string | Buffer, change: Partial<ImportPlan> = {}, options: Partial<ImportOptions> = {}) {
  const file = fileOf(text);
  const folder = freshFolder();
  const preview = await previewCsv(file);
  const time = preview.plan.time === null ? null : { ...preview.plan.time, zone: 'utc' as const };
  const result = await importCsv(file, folder, { ...preview.plan, time, ...change }, { nowUs: NOW_US, ...options });
  const reader = openSession(sessionPath(folder, result.session));
  const takes = reader.takes();
  const samples = (meter: number, take = 1) => {
    const { timeUs, value, flags, resolution } = reader.samples(take, meter, 0, Infinity);
    return { time: [...timeUs].map((us) => us / 1e6), value: [...value], flags: [...flags], resolution: [...resolution] };
  };
  const out = { result, preview, info: reader.info(), meters: reader.meters(), takes, zero: samples(0), one: samples(1), take2: samples(0, 2) };
  reader.close();
  return out;
}

describe('import of CSV', () => {
  it.each<[string, string | Buffer, number[], number[]]>([
    ['time in seconds, volts in the heading', 'time (s),CH1 (V)\n0,12.1\n0.5,12.2\n1.0,12.3\n', [0, 0.5, 1], [12.1, 12.2, 12.3]],
    ['millivolts in brackets, time in milliseconds', 't [ms];U [mV]\r\n100;1500\r\n200;1501\r\n300;1502\r\n', [0.1, 0.2, 0.3], [1.5, 1.501, 1.502]],
    ['decimal commas with semicolons', 'Zeit_s;Spannung_V\n0,1;12,10\n0,2;12,20\n0,3;12,30\n', [0.1, 0.2, 0.3], [12.1, 12.2, 12.3]],
    ['tabs, no heading', '0.1\t3.3 V\n0.2\t3.4 V\n0.3\t3.5 V\n', [0.1, 0.2, 0.3], [3.3, 3.4, 3.5]],
    ['units in the cells, with prefixes', 'seconds,reading\n1,1.2 kOhm\n2,900 Ohm\n3,1.1 kOhm\n', [1, 2, 3], [1200, 900, 1100]],
    ['a unit column', 'time,value,unit\n1,5,mV\n2,6,mV\n3,7,V\n', [1, 2, 3], [0.005, 0.006, 7]],
    ['a preamble before the heading', 'Logger 7\nStarted,never\n\ntime,V\n1,2.5\n2,2.6\n3,2.7\n', [1, 2, 3], [2.5, 2.6, 2.7]],
    ['a preamble with a date and a number in it', 'Logger 7;;\nmade;01.02.2026;\nserial;4711;\nDate;Time;CH1 (V)\n01.02.2026;10:00:00;12,0\n01.02.2026;10:00:01;12,1\n01.02.2026;10:00:02;12,2\n', [0, 1, 2], [12, 12.1, 12.2]],
    ['quoted cells and a byte order mark', '\ufeff"time","volts (V)"\n"1","2.5"\n"2","2.6"\n"3","2.7"\n', [1, 2, 3], [2.5, 2.6, 2.7]],
    ['UTF-16', Buffer.from('\ufefftime\tU (\u00b5V)\n1\t250\n2\t260\n3\t270\n', 'utf16le'), [1, 2, 3], [250e-6, 260e-6, 270e-6]],
    ['a micro sign in Latin-1', Buffer.from('time;U (\u00b5V)\n1;250\n2;260\n3;270\n', 'latin1'), [1, 2, 3], [250e-6, 260e-6, 270e-6]],
    ['a column of row numbers', 'No.,Time,DCV (V)\n1,0.4,12.0\n2,0.8,12.1\n3,1.2,12.2\n', [0.4, 0.8, 1.2], [12, 12.1, 12.2]],
    ['two rows of heading, the second with the units', 'Zeit;Spannung\n[s];[mV]\n0,1;1500,0\n0,2;1501,0\n0,3;1502,0\n', [0.1, 0.2, 0.3], [1.5, 1.501, 1.502]],
    ['every cell with more than a number', '"2026/03/05 10:00:00.000","12.1 V DC"\n"2026/03/05 10:00:00.500","12.2 V DC"\n"2026/03/05 10:00:01.000","12.3 V DC"\n', [0, 0.5, 1], [12.1, 12.2, 12.3]],
    ['commas between thousands', 'time,R (ohm)\n1,"1,234.5"\n2,"12,235"\n3,"936.5"\n', [1, 2, 3], [1234.5, 12_235, 936.5]],
    ['points between thousands', 'time;R (ohm)\n1;1.234,5\n2;12.235,0\n3;936,5\n', [1, 2, 3], [1234.5, 12_235, 936.5]],
    ['times before zero', 'time,V\n-0.2,1.5\n-0.1,1.6\n0.1,1.7\n', [0, 0.1, 0.3], [1.5, 1.6, 1.7]],
  ])('understands %s', async (_name, text, time, value) => {
    const { zero } = await imported(text);
    expect(zero.value).toEqual(value);
    zero.time.forEach((at, i) => expect(at).toBeCloseTo(time[i]!, 6));
  });

  it.each<[string, string, number, number[]]>([
    ['ISO 8601 with a zone', '2026-03-05T10:00:00.250+02:00,1\n2026-03-05T10:00:00.750+02:00,2\n', Date.UTC(2026, 2, 5, 8) * 1000, [0.25, 0.75]],
    ['ISO 8601 to the microsecond', '2026-03-05 08:00:00.000250,1\n2026-03-05 08:00:00.000750,2\n', Date.UTC(2026, 2, 5, 8) * 1000, [0.00025, 0.00075]],
    ['seconds since 1970', '1772697600.5,1\n1772697601.5,2\n', 1772697600 * 1e6, [0.5, 1.5]],
    ['milliseconds since 1970', '1772697600500,1\n1772697601500,2\n', 1772697600 * 1e6, [0.5, 1.5]],
    ['day first', '25.03.2026 08:00:00,1\n25.03.2026 08:00:02,2\n', Date.UTC(2026, 2, 25, 8) * 1000, [0, 2]],
    ['month first, half days', '3/25/2026 1:00:00 PM,1\n3/25/2026 1:00:02 PM,2\n', Date.UTC(2026, 2, 25, 13) * 1000, [0, 2]],
  ])('reads wall time as %s', async (_name, rows, startedAtUs, time) => {
    const { info, zero } = await imported(`time,V\n${rows}`);
    expect(info.startedAtUs).toBe(startedAtUs);
    zero.time.forEach((at, i) => expect(at).toBeCloseTo(time[i]!, 6));
  });

  it('takes wall times without a zone as those of the clock of this machine, when that is meant', async () => {
    const rows = 'time,V\n2026-07-05 10:00:00,1\n2026-07-05 10:00:01,2\n';
    const { preview } = await imported(rows);
    const { info, zero } = await imported(rows, { time: { ...preview.plan.time!, zone: 'local' } });
    // What JavaScript itself makes of a local time (ECMA-262, Date).
    expect(info.startedAtUs).toBe(new Date(2026, 6, 5, 10).getTime() * 1000);
    expect(zero.time).toEqual([0, 1]);
    const zoned = await imported('time,V\n2026-07-05T10:00:00Z,1\n2026-07-05T10:00:01Z,2\n', { time: { ...preview.plan.time!, zone: 'local' } });
    expect(zoned.info.startedAtUs).toBe(Date.UTC(2026, 6, 5, 10) * 1000);
  });

  it('guesses the rest anew when the user says how the columns are separated and where the readings begin', async () => {
    const file = fileOf('made,by,hand\n1;2;3\na;b;c (V)\n0;7;12.1\n1;7;12.2\n2;7;12.3\n');
    const { plan, heading } = await previewCsv(file, { delimiter: ';', headingRows: 3 });
    expect(plan).toMatchObject({ delimiter: ';', headingRows: 3 });
    expect(heading).toEqual(['a', 'b', 'c (V)']);
    await expect(previewCsv(file, { headingRows: 99 })).rejects.toThrow('no row is left');
  });

  it('takes the decimal sign from the readings, not from the dates', async () => {
    const { zero, preview } = await imported('Datum;Uhrzeit;U (V)\r\n05.03.2026;10:00:00;12,10\r\n05.03.2026;10:00:01;12,11\r\n05.03.2026;10:00:02;3,05\r\n');
    expect(preview.plan.decimal).toBe('comma');
    expect(zero.value).toEqual([12.1, 12.11, 3.05]);
    expect(zero.resolution).toEqual([0.01, 0.01, 0.01]);
  });

  it('leaves a reading out, and says so, rather than take another number for it', async () => {
    const { zero, result } = await imported('time,U (V)\n1,12.10\n2,"12,10"\n3,12.11\n');
    expect(zero.value).toEqual([12.1, 12.11]);
    expect(result.skippedFirst).toEqual([{ line: 3, why: 'no value can be read' }]);
  });

  it('joins a date column and a time column, past midnight', async () => {
    const { info, zero } = await imported('Date,Time,V\n2026-03-05,23:59:59.5,1\n2026-03-06,00:00:00.5,2\n2026-03-06,00:00:01.5,3\n');
    expect(info.startedAtUs).toBe(Date.UTC(2026, 2, 5, 23, 59, 59) * 1000);
    expect(zero.time).toEqual([0.5, 1.5, 2.5]);
  });

  it('follows a clock without a date past midnight', async () => {
    const { zero } = await imported('clock,V\n23:59:59,1\n00:00:00,2\n00:00:01,3\n');
    expect(zero.time.map((at) => at - zero.time[0]!)).toEqual([0, 1, 2]);
  });

  it('makes a meter of every column of values, on one time axis', async () => {
    const { meters, zero, one } = await imported('time,CH1 (V),CH2 (mA)\n1,12.1,500\n2,12.2,\n3,12.3,510\n');
    expect(meters.map(({ label }) => label)).toEqual(['CH1 (V)', 'CH2 (mA)']);
    expect(zero.value).toEqual([12.1, 12.2, 12.3]);
    expect([one.time, one.value]).toEqual([[1, 3], [0.5, 0.51]]);
  });

  it('keeps over-range as over-range and blanks as blanks, whether a cell or a flag says so', async () => {
    const { zero } = await imported('time,value,unit,flag\n1,0.5,ohm,\n2,OL,ohm,\n3,,ohm,OL\n4,,ohm,blank\n5,0.6,ohm,\n');
    expect(zero.value).toEqual([0.5, NaN, NaN, NaN, 0.6]);
    expect(zero.flags.map((flags) => flags & (Flag.overRange | Flag.blank))).toEqual([0, 1, 1, 4, 0]);
  });

  it('takes the resolution from the digits', async () => {
    const { zero } = await imported('time,U (mV)\n1,12.10\n2,12.1\n3,12\n');
    expect(zero.resolution).toEqual([1e-5, 1e-4, 1e-3]);
  });

  it('spreads rows that share a time, and says how many', async () => {
    const rows = Array.from({ length: 12 }, (_, i) => `10:00:0${Math.floor(i / 4)},12.${i}`).join('\n');
    const { zero, result } = await imported(`time,V\n${rows}\n`);
    expect(result.spread).toBe(9);
    expect(zero.time.map((at) => at - zero.time[0]!)).toEqual(Array.from({ length: 12 }, (_, i) => i * 0.25));
  });

  it('leaves out rows that it can not use, and names the first of them with their lines', async () => {
    const { result, zero } = await imported('time,V\n1,1.0\n2,2.0\nnever,3.0\n4,4.0\n3,5.0\n6,what\n7,7.0\n');
    expect(zero.value).toEqual([1, 2, 4, 7]);
    expect(result.skipped).toBe(3);
    expect(result.skippedFirst.map(({ line }) => line).sort()).toEqual([4, 6, 7]);
  });

  it('says what it is unsure of', async () => {
    const { doubts } = await previewCsv(fileOf('a,b\n1,5\n2,6\n4,7.5\n'));
    expect(doubts.join(' ')).toContain('taken as seconds');
    expect(doubts.join(' ')).toContain('unit');
  });

  it.each<[string, string, string]>([
    ['an empty file', '', 'empty'],
    ['a text', 'Dear Sir\nhow are you\n', 'no row of numbers'],
    ['what is no text', 'MZ"\u0001"x\u0002\n"\u0003"\u0004;;"\n', 'no table of text'],
  ])('refuses %s', async (_name, text, why) => {
    await expect(previewCsv(fileOf(text))).rejects.toThrow(why);
  });

  it(`brings our own export back bit for bit: takes, meters, times, arrivals, values, resolution, flags, coupling (seed ${seed})`, async () => {
    const path = join(freshFolder(), 'own.sqlite');
    const random = randomNumbers(seed);
    const writer = new SessionWriter(path, INFO, [METER, { ...METER, index: 1 }]);
    const sent: SampleBatch[] = [];
    for (const take of [1, 2]) {
      writer.commit([{ type: 'start-take', take: takeRecord(take) }]);
      for (const meter of [0, 1]) {
        const firstSeq = 1 + take * 10_000 + meter * 5000;
        // As meters give them, and as none does: every flag and function, infinities, negative zero.
        const batch = meter === 0 ? meterSamples(3000, random, { take, meter, start: take * 1000, firstSeq }) : { ...strangeSamples(3000, random, firstSeq), take, meter };
        sent.push(batch);
        writer.commit([{ type: 'samples', take, meter, bytes: canonicalBatch(batch) }]);
      }
      writer.commit([{ type: 'end-take', take: takeRecord(take, { end: 2000, ending: 'stopped' }), judgement: JUDGEMENT }]);
    }
    writer.finish();
    const csv = join(freshFolder(), 'own.csv');
    const own = openSession(path);
    await exportSession(own, csv, { format: 'csv', take: null, meter: null });
    const folder = freshFolder();
    const { plan } = await previewCsv(csv);
    const { session, skipped } = await importCsv(csv, folder, plan, { nowUs: NOW_US });
    expect(skipped).toBe(0);
    const reader = openSession(sessionPath(folder, session));
    for (const { take, meter } of sent) {
      // All but the sequence numbers, which count anew.
      const [{ seq: _sent, ...before }, { seq: _stored, ...after }] = [own.samples(take, meter, 0, Infinity), reader.samples(take, meter, 0, Infinity)];
      for (const [name, column] of Object.entries(before)) expect(after[name as keyof typeof after], name).toEqual(column);
    }
    own.close();
    reader.close();
  });

  it('judges what it imports as it would live: the same as from the stored samples', async () => {
    const rows = Array.from({ length: 900 }, (_, i) => `${(i / 10).toFixed(1)},${i === 400 || i === 700 ? '3.10' : (12.1 + (i % 3) / 100).toFixed(2)}`);
    const file = fileOf(`time,V\n${rows.join('\n')}\n`);
    const folder = freshFolder();
    const { plan } = await previewCsv(file);
    const { session } = await importCsv(file, folder, plan, { nowUs: NOW_US, limits: { low: 11.5, high: null }, accuracy: { fraction: 0.005, counts: 2 } });
    const reader = openSession(sessionPath(folder, session));
    const [take] = reader.takes();
    expect(take!.judgement!.verdict).toBe('intermittent');
    expect(take!.judgement!.dropouts.length).toBe(2);
    expect(judgeStored(reader, take!)).toEqual(take!.judgement);
    reader.close();
  });

  it('can be stopped, and leaves nothing behind', async () => {
    const file = fileOf(`time,V\n${Array.from({ length: 50_000 }, (_, i) => `${i},12.${i % 10}`).join('\n')}\n`);
    const folder = freshFolder();
    const stopping = new AbortController();
    const { plan } = await previewCsv(file);
    const importing = importCsv(file, folder, plan, { nowUs: NOW_US, signal: stopping.signal, onProgress: () => stopping.abort() });
    await expect(importing).rejects.toMatchObject({ name: 'AbortError' });
    expect(readdirSync(folder)).toEqual([]);
  });

  it('on the command line: shows its guess, takes corrections, refuses nonsense', async () => {
    let out = '';
    let err = '';
    const io = { stdout: { write: (text: string) => { out += text; return true; } }, stderr: { write: (text: string) => { err += text; return true; } } };
    const file = fileOf('when,left,right\n1,500,7\n2,510,8\n4,520,9\n');
    const folder = freshFolder();
    expect(await importCommand([file, '--preview'], io)).toBe(0);
    expect(out).toContain('Time: "when" as s');
    expect(await importCommand([file, '--recordings', folder, '--time', 'when:ms', '--value', 'left:mV', '--title', 'Corrected', '--low', '0.1'], io)).toBe(0);
    const [name] = readdirSync(folder);
    const reader = openSession(join(folder, name!));
    expect(reader.info().title).toBe('Corrected');
    expect([...reader.samples(1, 0, 0, 9).value]).toEqual([0.5, 0.51, 0.52]);
    expect([...reader.samples(1, 0, 0, 9).timeUs]).toEqual([1000, 2000, 4000]);
    reader.close();
    for (const args of [[], ['/nowhere.csv'], [file, '--value', 'middle'], [file, '--value', 'left:parsec'], [file, '--kind', 'guess'], [file, '--low', 'x'], [file, '--what']]) {
      err = '';
      expect(await importCommand(args, io)).toBe(2);
      expect(err).toMatch(/^import: /);
    }
  });
});

describe('readTime', () => {
  // ISO 8601 forms and their instants: RFC 3339, section 5.8, examples.
  it.each<[string, TimeFormat, number]>([
    ['1985-04-12T23:20:50.52Z', 'iso', Date.UTC(1985, 3, 12, 23, 20, 50) / 1000 + 0.52],
    ['1996-12-19T16:39:57-08:00', 'iso', Date.UTC(1996, 11, 20, 0, 39, 57) / 1000],
    ['1937-01-01T12:00:27.87+00:20', 'iso', Date.UTC(1937, 0, 1, 11, 40, 27) / 1000 + 0.87],
    // Days since 1899-12-30, as OASIS OpenDocument 1.2 part 2 (OpenFormula), section 4.3.2, has it as the usual epoch.
    ['25569', 'spreadsheet-days', 0],
    ['25569.5', 'spreadsheet-days', 43_200],
    ['12:30', 'clock', 45_000],
    ['12:00:00 AM', 'clock', 0],
    ['1:02:03.5', 'clock', 3723.5],
    ['1,5', 'minutes', 90],
  ])('%s as %s', (text, format, seconds) => {
    expect(readTime(text, format)).toBeCloseTo(seconds, 6);
  });

  it.each<[string, TimeFormat]>([['', 's'], ['12:99', 'clock'], ['2026-13-01T00:00:00Z', 'iso'], ['32.01.2026 10:00', 'dmy-clock'], ['noon', 'clock'], ['1e', 's']])(
    'refuses "%s" as %s', (text, format) => {
      expect(readTime(text, format)).toBeNull();
    },
  );
});
