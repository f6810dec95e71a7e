/** A session of 100 million samples: opening it, drawing any window of it, against DuckDB on the same samples in Parquet; memory. */
import { mkdtempSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Library } from '../../server/recordings/index.ts';
import { SessionReader } from '../../server/recordings/session-reader.ts';
import { verifySession } from '../../server/recordings/verify.ts';
import { randomNumbers } from '../recordings/support/samples.ts';
import { writeLongTake } from './recordings/long-take.ts';
import { firstPaint } from './recordings/first-paint.ts';
import { soak } from './recordings/soak.ts';
import { connect, overviewByDuckDb, writeParquetCopy } from './recordings/parquet-overview.ts';

const SAMPLES = 100_000_000;
const COLUMNS = 1500;
/** Their queries of the whole take some ten seconds each. */
const THEIR_ROUNDS = 3;

export default {
  name: 'recordings_long',
  run: async (): Promise<object> => {
    const seed = Math.floor(Math.random() * 2 ** 31);
    const folder = mkdtempSync(join(tmpdir(), 'loomtrace-bench-'));
    try {
      const path = join(folder, 'long.sqlite');
      const before = performance.now();
      const { interval, dropouts } = writeLongTake(path, SAMPLES, seed);
      const writing = (performance.now() - before) / 1000;
      const duration = SAMPLES * interval;
      return {
        seed, samples: SAMPLES, hours: Number((duration / 3600).toFixed(2)), bytes_a_sample: Number((statSync(path).size / SAMPLES).toFixed(3)),
        samples_written_a_second: Math.round(SAMPLES / writing),
        open: await open(folder), overview: await overview(folder, path, duration, seed), dropouts: everyDropout(path, dropouts, duration),
        click_to_first_paint_ms: spread(await firstPaint(folder, 'long')), recording_and_reviewing: await soak(folder, 'long', 60), verify: verify(path),
      };
    } finally {
      rmSync(folder, { recursive: true });
    }
  },
};

/** From asking to the answer, through the reader thread, nothing open before. */
async function open(folder: string): Promise<object> {
  const times: number[] = [];
  const painted: number[] = [];
  for (let round = 0; round < 9; round++) {
    const library = Library.open({ folder });
    await library.space();
    const start = performance.now();
    await library.contents('long');
    times.push(performance.now() - start);
    await library.trace('long', 1, 0, -Infinity, Infinity, COLUMNS);
    painted.push(performance.now() - start);
    await library.close();
  }
  return { contents_ms: spread(times), contents_and_whole_trace_ms: spread(painted) };
}

/** Windows of every size anywhere in the recording: time in the reader, with nothing kept from the query before. */
async function overview(folder: string, path: string, duration: number, seed: number): Promise<object> {
  const random = randomNumbers(seed);
  const connection = await connect();
  const parquet = join(folder, 'copy.parquet');
  await writeParquetCopy(connection, path, parquet);
  const bySize: Record<string, object> = {};
  const all: number[] = [];
  /** Of the processor: what a machine that does nothing else would take. */
  const cpus: number[] = [];
  for (const share of [1, 0.3, 0.1, 0.01, 1e-3, 1e-4, 1e-5]) {
    const ours: number[] = [];
    const theirs: number[] = [];
    let points = 0;
    for (let round = 0; round < 15; round++) {
      const from = random() * duration * (1 - share);
      const to = from + duration * share;
      const reader = new SessionReader(path);
      const cpu = process.cpuUsage();
      const start = performance.now();
      points = Math.max(points, reader.trace(1, 0, from, to, COLUMNS).length);
      ours.push(performance.now() - start);
      cpus.push(process.cpuUsage(cpu).user / 1000);
      reader.close();
      if (round >= THEIR_ROUNDS) continue;
      const theirStart = performance.now();
      await overviewByDuckDb(connection, parquet, from, to, COLUMNS);
      theirs.push(performance.now() - theirStart);
    }
    all.push(...ours);
    bySize[`${duration * share} s`] = { ms: spread(ours), most_points: points, duckdb_ms_over_ours: Number((median(theirs) / median(ours)).toPrecision(3)) };
  }
  connection.closeSync();
  return { columns: COLUMNS, all_windows_ms: spread(all), all_windows_processor_ms: spread(cpus), by_window: bySize, parquet_bytes_a_sample_time_and_value: Number((statSync(parquet).size / SAMPLES).toFixed(3)) };
}

/** Every one-sample dropout is to be seen in the whole recording at once, exactly. */
function everyDropout(path: string, dropouts: readonly { readonly at: number; readonly value: number }[], duration: number): object {
  const reader = new SessionReader(path);
  const trace = reader.trace(1, 0, 0, duration, COLUMNS);
  reader.close();
  const column = duration / COLUMNS;
  const isShown = ({ at, value }: { at: number; value: number }) => trace.time.some((time, i) => Math.abs(time - at) <= 2 * column && trace.value[i]! <= value);
  return { recorded: dropouts.length, shown_in_the_whole: dropouts.filter(isShown).length };
}

function verify(path: string): object {
  const reader = new SessionReader(path);
  const start = performance.now();
  const { state, sealedSamples } = verifySession(reader);
  const seconds = (performance.now() - start) / 1000;
  reader.close();
  return { state, samples_a_second: Math.round(sealedSamples / seconds) };
}

function median(values: readonly number[]): number {
  return [...values].sort((a, b) => a - b)[values.length >> 1]!;
}

function spread(values: readonly number[]): object {
  const sorted = [...values].sort((a, b) => a - b);
  return { median: Number(median(values).toPrecision(3)), max: Number(sorted.at(-1)!.toPrecision(3)) };
}
