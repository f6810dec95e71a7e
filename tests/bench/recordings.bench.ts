/** Recordings: bytes a sample, append rate, and what a kill -9 costs. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { SessionWriter } from '../../server/recordings/session-writer.ts';
import { canonicalBatch } from '../../server/recordings/stored-samples.ts';
import { recordAndKill } from '../recordings/support/kill.ts';
import { cut, INFO, METER, randomNumbers, takeRecord } from '../recordings/support/samples.ts';
import { measureSizes } from './recordings/sizes.ts';
import { STREAMS } from './recordings/streams.ts';

const SAMPLES = 500_000;
const KILLS = 200;
/** Samples a millisecond, all meters together: 100,000 a second. */
const MOST_PER_MS = 100;

export default {
  name: 'recordings',
  run: async (): Promise<object> => {
    const seed = Math.floor(Math.random() * 2 ** 31);
    return { seed, bytes_a_sample: await sizes(seed), append: append(seed), kills: await kills(seed) };
  },
};

async function sizes(seed: number): Promise<object> {
  const results: Record<string, object> = {};
  for (const [i, { name, make }] of STREAMS.entries()) {
    const { samples, ours, parquetSameColumns, parquetTimeValueFlags, gzipCsv, sqliteRows } = await measureSizes(make(SAMPLES, seed + i));
    results[name] = {
      samples, bytes_a_sample: round(ours),
      ratio_to_parquet_v2_zstd19_same_columns: round(ours / parquetSameColumns),
      ratio_to_parquet_v2_zstd19_time_value_flags_only: round(ours / parquetTimeValueFlags),
      ratio_to_gzip_csv: round(ours / gzipCsv), ratio_to_sqlite_rows: round(ours / sqliteRows),
    };
  }
  return results;
}

/** Commits of 1,000 samples, each synchronised to disk, with sealing and overview. */
function append(seed: number): object {
  const folder = mkdtempSync(join(tmpdir(), 'loomtrace-bench-'));
  try {
    const batch = STREAMS[4]!.make(SAMPLES, seed);
    const writer = new SessionWriter(join(folder, 'append.sqlite'), INFO, [METER]);
    writer.commit([{ type: 'start-take', take: takeRecord(1) }]);
    const commits: number[] = [];
    const seals: number[] = [];
    const cpu = process.cpuUsage();
    const start = performance.now();
    for (let from = 0; from < SAMPLES; from += 1000) {
      const bytes = canonicalBatch(cut(batch, from, from + 1000));
      const before = performance.now();
      writer.commit([{ type: 'samples', take: 1, meter: 0, bytes }]);
      const between = performance.now();
      commits.push(between - before);
      const wasSealed = writer.sealed.samples;
      while (writer.sealNext());
      if (writer.sealed.samples > wasSealed) seals.push(performance.now() - between);
    }
    const seconds = (performance.now() - start) / 1000;
    const used = process.cpuUsage(cpu);
    writer.finish();
    return {
      samples_a_second: Math.round(SAMPLES / seconds), samples_a_cpu_second: Math.round((SAMPLES * 1e6) / (used.user + used.system)),
      commit_ms: spread(commits), seal_of_32768_samples_ms: spread(seals),
    };
  } finally {
    rmSync(folder, { recursive: true });
  }
}

/** Real processes, killed at random moments: how much of what was sent is missing. */
async function kills(seed: number): Promise<object> {
  const random = randomNumbers(seed);
  const plans = Array.from({ length: KILLS }, (_, i) => {
    const meters = 1 + Math.floor(random() * 4);
    const batch = [1, 10, 150, 900][i % 4]!;
    const everyMs = Math.max(1 + Math.floor(random() * 20), Math.ceil((meters * batch) / MOST_PER_MS));
    return { meters, batch, everyMs, takeLength: [400, 20_000, 1e9][Math.floor(random() * 3)]!, killAfterMs: random() * 1500 };
  });
  const lost: number[] = [];
  const faults: string[] = [];
  const next = plans.values();
  await Promise.all([1, 2].map(async () => {
    for (const plan of next) {
      const folder = mkdtempSync(join(tmpdir(), 'loomtrace-bench-'));
      try {
        const left = await recordAndKill({ ...plan, folder });
        lost.push(left.lostMs);
        if (left.integrity !== 'ok' || left.difference !== '' || left.stored < left.acknowledged) faults.push(JSON.stringify({ plan, left }));
      } finally {
        rmSync(folder, { recursive: true });
      }
    }
  }));
  return { kills: KILLS, lost_ms: spread(lost), over_250_ms: lost.filter((ms) => ms > 250).length, damaged_or_not_a_prefix_or_acknowledged_and_missing: faults };
}

export function spread(values: readonly number[]): object {
  const sorted = [...values].sort((a, b) => a - b);
  const at = (share: number) => round(sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? NaN);
  return { median: at(0.5), p99: at(0.99), max: at(1) };
}

function round(value: number): number {
  return Number(value.toPrecision(3));
}
