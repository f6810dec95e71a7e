import { DuckDBInstance } from '@duckdb/node-api';
import { parse } from 'csv-parse/sync';
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { fromFunctionCode, UNITS } from '../../drivers/reading.ts';
import { exportCommand } from '../../server/commands/export.ts';
import { judgeCommand } from '../../server/commands/judge.ts';
import { exportSession, openSession } from '../../server/recordings/index.ts';
import { flagsOfWords, flagWords, judgeFlag } from '../../server/recordings/flag-words.ts';
import { SessionWriter } from '../../server/recordings/session-writer.ts';
import { canonicalBatch } from '../../server/recordings/stored-samples.ts';
import type { SampleBatch } from '../../server/session/session.ts';
import { freshFolder } from './support/folder.ts';
import { INFO, JUDGEMENT, METER, meterSamples, randomNumbers, strangeSamples, takeRecord } from './support/samples.ts';

const seed = Math.floor(Math.random() * 2 ** 31);

function record(batches: readonly SampleBatch[]): string {
  const path = join(freshFolder(), 'session.sqlite');
  const writer = new SessionWriter(path, INFO, [METER, { ...METER, index: 1 }]);
  for (const take of new Set(batches.map((batch) => batch.take))) {
    writer.commit([{ type: 'start-take', take: takeRecord(take) }]);
    for (const batch of batches.filter((one) => one.take === take)) {
      writer.commit([{ type: 'samples', take, meter: batch.meter, bytes: canonicalBatch(batch) }]);
    }
    writer.commit([{ type: 'end-take', take: takeRecord(take, { end: 9000, ending: 'stopped' }), judgement: JUDGEMENT }]);
  }
  writer.finish();
  return path;
}

async function exported(path: string, format: 'csv' | 'json' | 'parquet', take: number | null = null) {
  const target = join(freshFolder(), `out.${format}`);
  const reader = openSession(path);
  const shares: number[] = [];
  const result = await exportSession(reader, target, { format, take, meter: null, onProgress: (share) => shares.push(share) });
  reader.close();
  expect(shares.at(-1)).toBe(1);
  expect([...shares].sort((a, b) => a - b)).toEqual(shares);
  return { target, result };
}

/** Samples with codes that name a quantity, as every decoder gives them. */
function strange(n: number, take: number, meter: number, firstSeq: number): SampleBatch {
  return { ...strangeSamples(n, randomNumbers(seed + take + meter), firstSeq), take, meter };
}

const batches = [strange(40_000, 1, 0, 1), meterSamples(500, randomNumbers(seed), { take: 1, meter: 1, firstSeq: 50_001 }), strange(100, 2, 0, 60_001)];
const path = record(batches);

async function query(sql: string): Promise<Record<string, unknown>[]> {
  const connection = await (await DuckDBInstance.create(':memory:')).connect();
  try {
    return (await connection.runAndReadAll(sql)).getRowObjects() as Record<string, unknown>[];
  } finally {
    connection.closeSync();
  }
}

describe('export', () => {
  it(`as Parquet gives every sample back, bit for bit, through another reader (DuckDB; seed ${seed})`, async () => {
    const { target, result } = await exported(path, 'parquet');
    expect(result).toEqual({ samples: 40_600, files: ['out.parquet'] });
    const rows = await query(`SELECT * FROM '${target}' ORDER BY take, meter, seq`);
    let row = 0;
    for (const batch of batches) {
      for (let i = 0; i < batch.length; i++, row++) {
        const { value, unit, quantity, coupling, flags, time_us, arrival_us, seq, take, meter } = rows[row]!;
        const meaning = fromFunctionCode(batch.functionCode[i]!);
        const same = Object.is(value ?? NaN, batch.value[i]) && time_us === BigInt(Math.round(batch.time[i]! * 1e6)) && seq === BigInt(batch.firstSeq + i)
          && arrival_us === BigInt(Math.round(batch.arrival[i]! * 1e6)) && flagsOfWords(flags as string) === batch.flags[i]
          && quantity === meaning.quantity && coupling === meaning.coupling && unit === UNITS[meaning.quantity] && take === batch.take && meter === batch.meter;
        if (!same) expect.fail(`row ${row} differs: ${JSON.stringify(rows[row], (_k, v: unknown) => (typeof v === 'bigint' ? String(v) : v))}`);
      }
    }
    expect(row).toBe(rows.length);
    const [meta] = await query(`SELECT decode(value) AS value FROM parquet_kv_metadata('${target}') WHERE decode(key) = 'session'`);
    expect(JSON.parse(meta!.value as string)).toEqual(INFO);
  });

  it('as CSV is RFC 4180, gives every sample back, and DuckDB reads it', async () => {
    const { target, result } = await exported(path, 'csv');
    expect(result.files).toEqual(['out.csv', 'out.csv-metadata.json']);
    const text = readFileSync(target, 'utf8');
    expect(text.split('\r\n').length).toBe(40_600 + 2);
    expect(text.replaceAll('\r\n', '')).not.toMatch(/[\r\n"]/);
    const rows = parse(text, { columns: true, cast: false }) as Record<string, string>[];
    let row = 0;
    for (const batch of batches) {
      for (let i = 0; i < batch.length; i++, row++) {
        const r = rows[row]!;
        const value = r.value === '' ? NaN : Number(r.value!.replace('INF', 'Infinity'));
        const same = Object.is(value, batch.value[i]) && Number(r.time) === batch.time[i] && Number(r.arrival) === batch.arrival[i]
          && flagsOfWords(r.flags!) === batch.flags[i] && Number(r.seq) === batch.firstSeq + i && r.flag === judgeFlag(batch.flags[i]!);
        if (!same) expect.fail(`row ${row} differs: ${JSON.stringify(r)}`);
      }
    }
    const [counted] = await query(`SELECT count(*) AS n, count(value) AS valued FROM read_csv('${target}', types = {value: 'DOUBLE', flag: 'VARCHAR'})`);
    const valued = batches.reduce((sum, batch) => sum + batch.value.filter((value) => !Number.isNaN(value)).length, 0);
    expect(counted).toEqual({ n: 40_600n, valued: BigInt(valued) });
  });

  // W3C, "Metadata Vocabulary for Tabular Data", Recommendation of 17 December 2015: sections 5.2 (context), 5.3.2 (url),
  // 5.5 (schemas), 5.6 (columns: name, titles, datatype, null, required), 5.9 (dialect), and of "Model for Tabular Data and Metadata
  // on the Web" section 5.3 (the default location is the file's name followed by -metadata.json).
  it('as CSV has W3C metadata that name the columns as they stand', async () => {
    const { target } = await exported(path, 'csv', 2);
    const metadata = JSON.parse(readFileSync(`${target}-metadata.json`, 'utf8')) as {
      '@context': unknown[]; url: string; dialect: object; tableSchema: { primaryKey: string[]; columns: { name: string; titles: string; datatype: string; null: string }[] };
    };
    expect(metadata['@context'][0]).toBe('http://www.w3.org/ns/csvw');
    expect(metadata.url).toBe('out.csv');
    const heading = readFileSync(target, 'utf8').split('\r\n')[0]!.split(',');
    expect(metadata.tableSchema.columns.map(({ titles }) => titles)).toEqual(heading);
    const builtIn = ['double', 'integer', 'string'];
    for (const column of metadata.tableSchema.columns) {
      expect(column.name).toMatch(/^[a-z]+$/);
      expect(builtIn).toContain(column.datatype);
    }
    for (const key of metadata.tableSchema.primaryKey) expect(heading).toContain(key);
  });

  // What a validator checks by W3C, "Model for Tabular Data and Metadata on the Web" (17 December 2015), section 6.4 (parsing cells), and
  // "Metadata Vocabulary", section 5.6 (required) and 5.5 (primaryKey); lexical forms: XML Schema 1.1 part 2, sections 3.3.5 and 3.4.13.
  it('as CSV has cells that are what the metadata say: types, required ones filled, keys unique', async () => {
    const { target } = await exported(path, 'csv');
    const { tableSchema: { columns, primaryKey } } = JSON.parse(readFileSync(`${target}-metadata.json`, 'utf8')) as {
      tableSchema: { primaryKey: string[]; columns: { name: string; datatype: string; null: string; required: boolean }[] };
    };
    const forms: Record<string, RegExp> = {
      double: /^([+-]?(\d+(\.\d*)?|\.\d+)([Ee][+-]?\d+)?|[+-]?INF|NaN)$/, integer: /^[+-]?\d+$/, string: /^/,
    };
    const keys = new Set<string>();
    const rows = parse(readFileSync(target, 'utf8'), { columns: true }) as Record<string, string>[];
    for (const [number, row] of rows.entries()) {
      for (const { name, datatype, null: nothing, required } of columns) {
        const cell = row[name]!;
        const isRight = cell === nothing ? !required  : forms[datatype]!.test(cell);
        if (!isRight) expect.fail(`row ${number + 1}: "${cell}" is no ${datatype} of column ${name}`);
      }
      keys.add(primaryKey.map((key) => row[key]).join(' '));
    }
    expect(keys.size).toBe(rows.length);
  });

  it('as JSON holds the records and the samples', async () => {
    const { target } = await exported(path, 'json');
    const text = readFileSync(target, 'utf8');
    const { session, takes, samples, schema } = JSON.parse(text) as {
      schema: string; session: object; takes: { id: number; judgement: object }[]; samples: { take: number; meter: number; value: (number | string | null)[]; resolution: (number | string | null)[]; time: number[]; flags: number[] }[];
    };
    expect({ schema, session }).toEqual({ schema: 'session/2', session: INFO });
    expect(takes.map(({ id, judgement }) => [id, judgement])).toEqual([[1, JUDGEMENT], [2, JUDGEMENT]]);
    const first = samples.filter(({ take, meter }) => take === 1 && meter === 0);
    const values = first.flatMap(({ value }) => value);
    expect(values.length).toBe(40_000);
    // JSON has no NaN (null) and no infinities (strings); the strange samples have them all.
    for (const [sent, got] of [[batches[0]!.value, values], [batches[0]!.resolution, first.flatMap(({ resolution }) => resolution)]] as const) {
      sent.forEach((value, i) => {
        const read = got[i] === null ? NaN : typeof got[i] === 'string' ? Number(got[i]) : got[i];
        if (!Object.is(read, value)) expect.fail(`sample ${i} is ${got[i]} instead of ${value}`);
      });
    }
    expect(first.flatMap(({ flags }) => flags)).toEqual([...batches[0]!.flags]);
  });

  it('as CSV is judged by the command line as any file', async () => {
    const quiet = record([meterSamples(600, randomNumbers(5), { take: 1, noise: 0.6 })]);
    const { target } = await exported(quiet, 'csv');
    let out = '';
    const io = { stdout: { write: (text: string) => { out += text; return true; } }, stderr: { write: () => true } };
    expect(await judgeCommand([target, '--json', '--take', 'spot', '--accuracy', '0.5%+2', '--low', '11.5'], io)).toBe(0);
    expect(JSON.parse(out)).toMatchObject({ samples: 600, quantity: 'voltage', verdict: 'pass', gaps: [] });
  });

  it.each(['csv', 'json', 'parquet'] as const)('as %s can be stopped, and leaves nothing behind', async (format) => {
    const folder = freshFolder();
    const stopping = new AbortController();
    const reader = openSession(path);
    const exporting = exportSession(reader, join(folder, `out.${format}`), {
      format, take: null, meter: null, signal: stopping.signal, onProgress: () => stopping.abort(),
    });
    await expect(exporting).rejects.toMatchObject({ name: 'AbortError' });
    reader.close();
    expect(readdirSync(folder)).toEqual([]);
  });

  it('on the command line takes the format from the file name, and says what it does not understand', async () => {
    const folder = freshFolder();
    let out = '';
    let err = '';
    const io = { stdout: { write: (text: string) => { out += text; return true; } }, stderr: { write: (text: string) => { err += text; return true; } } };
    expect(await exportCommand([path, join(folder, 'take2.csv'), '--take', '2'], io)).toBe(0);
    expect(out).toBe('100 samples written to take2.csv and take2.csv-metadata.json\n');
    for (const args of [[path], [path, join(folder, 'x.txt')], ['/nowhere.sqlite', join(folder, 'x.csv')], [path, join(folder, 'x.csv'), '--take', 'a'], [path, '/nowhere/x.csv']]) {
      err = '';
      expect(await exportCommand(args, io)).toBe(2);
      expect(err).toMatch(/^export: /);
    }
  });
});

describe('flags as words', () => {
  it('come back for every combination of sixteen bits', () => {
    for (let flags = 0; flags < 65_536; flags++) if (flagsOfWords(flagWords(flags)) !== flags) expect.fail(`${flags}`);
    expect(flagsOfWords('nonsense')).toBeNull();
  });
});
