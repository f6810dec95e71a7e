/** The same samples in Parquet, and the same picture of a window by DuckDB. */
import { DuckDBDataChunk, DuckDBInstance, DOUBLE } from '@duckdb/node-api';
import type { DuckDBConnection } from '@duckdb/node-api';
import { SessionReader } from '../../../server/recordings/session-reader.ts';

const ROWS = 2048;
const PAGE = 32_768;

export async function connect(): Promise<DuckDBConnection> {
  return (await DuckDBInstance.create(':memory:')).connect();
}

/** Time (us) and value of take 1, meter 0 as Parquet, as DuckDB writes it by default. */
export async function writeParquetCopy(connection: DuckDBConnection, session: string, target: string): Promise<void> {
  await connection.run('CREATE TABLE samples (time_us DOUBLE, value DOUBLE)');
  const appender = await connection.createAppender('samples');
  const reader = new SessionReader(session);
  for (let from = 0; ; from += PAGE) {
    const { length, timeUs, value } = reader.samples(1, 0, from, from + PAGE);
    if (length === 0) break;
    for (let at = 0; at < length; at += ROWS) {
      const to = Math.min(length, at + ROWS);
      const chunk = DuckDBDataChunk.create([DOUBLE, DOUBLE], to - at);
      chunk.setColumnValues(0, Array.from(timeUs.subarray(at, to)));
      chunk.setColumnValues(1, Array.from(value.subarray(at, to), (y) => (Number.isNaN(y) ? null : y)));
      appender.appendDataChunk(chunk);
    }
  }
  appender.closeSync();
  reader.close();
  await connection.run(`COPY (SELECT time_us::BIGINT AS time_us, value FROM samples) TO '${target}' (FORMAT parquet, COMPRESSION zstd)`);
  await connection.run('DROP TABLE samples');
}

/** Lowest and highest value with their times, per column of the window. */
export async function overviewByDuckDb(connection: DuckDBConnection, parquet: string, from: number, to: number, columns: number): Promise<number> {
  const reader = await connection.runAndReadAll(`
    SELECT floor((time_us - ${from * 1e6}) * ${columns} / ${(to - from) * 1e6}) AS c, min(value), arg_min(time_us, value), max(value), arg_max(time_us, value)
    FROM '${parquet}' WHERE time_us BETWEEN ${from * 1e6} AND ${to * 1e6} GROUP BY c ORDER BY c`);
  return reader.currentRowCount;
}
