/** Bytes a sample takes in our file and elsewhere, on the same samples. */
import { DuckDBInstance } from '@duckdb/node-api';
import Database from 'better-sqlite3';
import { mkdtempSync, rmSync, statSync, writeFileSync, readFileSync, openSync, writeSync, closeSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { constants, gzipSync } from 'node:zlib';
import { SessionWriter } from '../../../server/recordings/session-writer.ts';
import { canonicalBatch } from '../../../server/recordings/stored-samples.ts';
import type { SampleBatch } from '../../../server/session/session.ts';
import { cut, INFO, JUDGEMENT, METER, takeRecord } from '../../recordings/support/samples.ts';

export interface Sizes {
  readonly samples: number;
  /** Bytes a sample, whole files. */
  readonly ours: number;
  readonly parquetSameColumns: number;
  readonly parquetTimeValueFlags: number;
  readonly gzipCsv: number;
  readonly sqliteRows: number;
  readonly ratioToParquet: number;
  readonly ratioToParquetTimeValueFlags: number;
}

export async function measureSizes(batch: SampleBatch): Promise<Sizes> {
  const folder = mkdtempSync(join(tmpdir(), 'loomtrace-bench-'));
  try {
    const ours = writeOurs(join(folder, 'ours.sqlite'), batch);
    const csv = join(folder, 'samples.csv');
    writeCsv(csv, batch);
    const parquet = await writeParquet(csv, join(folder, 'all.parquet'), '*');
    const parquetFew = await writeParquet(csv, join(folder, 'few.parquet'), 'time_us, value, flags');
    const per = (bytes: number) => bytes / batch.length;
    return {
      samples: batch.length, ours: per(ours), parquetSameColumns: per(parquet), parquetTimeValueFlags: per(parquetFew),
      gzipCsv: per(gzipSync(readFileSync(csv), { level: constants.Z_BEST_COMPRESSION }).length),
      sqliteRows: per(writeRows(join(folder, 'rows.sqlite'), batch)),
      ratioToParquet: ours / parquet, ratioToParquetTimeValueFlags: ours / parquetFew,
    };
  } finally {
    rmSync(folder, { recursive: true });
  }
}

/** As a session records it live: small commits, then the end of the take. */
function writeOurs(path: string, batch: SampleBatch): number {
  const writer = new SessionWriter(path, INFO, [METER]);
  writer.commit([{ type: 'start-take', take: takeRecord(1) }]);
  for (let from = 0; from < batch.length; from += 1000) {
    writer.commit([{ type: 'samples', take: 1, meter: 0, bytes: canonicalBatch(cut(batch, from, Math.min(batch.length, from + 1000))) }]);
    while (writer.sealNext());
  }
  writer.commit([{ type: 'end-take', take: takeRecord(1, { end: batch.time.at(-1)!, ending: 'stopped' }), judgement: JUDGEMENT }]);
  writer.finish();
  return statSync(path).size;
}

function writeCsv(path: string, { length, firstSeq, take, meter, time, arrival, value, resolution, flags, functionCode }: SampleBatch): void {
  writeFileSync(path, 'take,meter,seq,time_us,arrival_us,value,resolution,flags,function\n');
  const file = openSync(path, 'a');
  let lines = '';
  for (let i = 0; i < length; i++) {
    const shown = Number.isNaN(value[i]) ? '' : String(value[i]);
    lines += `${take},${meter},${firstSeq + i},${Math.round(time[i]! * 1e6)},${Math.round(arrival[i]! * 1e6)},${shown},${resolution[i]},${flags[i]},${functionCode[i]}\n`;
    if (lines.length > 1e6 || i === length - 1) {
      writeSync(file, lines);
      lines = '';
    }
  }
  closeSync(file);
}

/** The smallest that a real Parquet writer gives: version 2, zstd at level 19, the better of two row group sizes. */
async function writeParquet(csv: string, path: string, columns: string): Promise<number> {
  const connection = await (await DuckDBInstance.create(':memory:')).connect();
  const sizes: number[] = [];
  try {
    for (const rows of [122_880, 1_000_000]) {
      await connection.run(`COPY (SELECT ${columns} FROM read_csv('${csv}', types = {take: 'INTEGER', meter: 'TINYINT', seq: 'BIGINT', time_us: 'BIGINT',
        arrival_us: 'BIGINT', value: 'DOUBLE', resolution: 'DOUBLE', flags: 'USMALLINT', function: 'UTINYINT'}))
        TO '${path}' (FORMAT parquet, PARQUET_VERSION v2, COMPRESSION zstd, COMPRESSION_LEVEL 19, ROW_GROUP_SIZE ${rows})`);
      sizes.push(statSync(path).size);
    }
  } finally {
    connection.closeSync();
  }
  return Math.min(...sizes);
}

function writeRows(path: string, { length, time, value, flags }: SampleBatch): number {
  const db = new Database(path);
  db.exec('CREATE TABLE samples (take INTEGER, time REAL, value REAL, flags INTEGER)');
  const insert = db.prepare('INSERT INTO samples VALUES (1, ?, ?, ?)');
  db.transaction(() => {
    for (let i = 0; i < length; i++) insert.run(time[i], Number.isNaN(value[i]) ? null : value[i], flags[i]);
  })();
  db.close();
  return statSync(path).size;
}
