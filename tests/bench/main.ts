/**
 * `npm run bench [-- TOPIC ...]`: runs tests/bench/TOPIC.bench.ts and prints one JSON object on standard output. Ratios are taken in one
 * run; seeds are fresh and printed with the figures. Without a topic all are run, and the report is written.
 * `npm run bench -- report [TOPIC ...]`: the same, and takes the results into tests/bench/report/report.json and the table of DEVELOPERS.md.
 * `npm run bench -- report --from FILE ...`: takes in what earlier runs printed. `report --table`: only makes the table anew.
 */
import { readdirSync, readFileSync } from 'node:fs';
import { cpus, loadavg } from 'node:os';
import { argv, stderr, stdout, version } from 'node:process';
import type { BenchOutput } from './report/report.ts';
import { writeReport } from './report/report-files.ts';

export interface Bench {
  readonly name: string;
  run(): Promise<object>;
}

const known = readdirSync(new URL('.', import.meta.url))
  .flatMap((file) => /^(.+)\.bench\.ts$/.exec(file)?.[1] ?? []);

async function run(topics: readonly string[]): Promise<BenchOutput> {
  const results: Record<string, { load: number; results: unknown }> = {};
  for (const topic of topics) {
    stderr.write(`bench: ${topic} ...\n`);
    const bench = ((await import(`./${topic}.bench.ts`)) as { default: Bench }).default;
    const own = await bench.run();
    results[topic] = { load: Math.round(loadavg()[0] as number), results: own };
  }
  return { date: new Date().toISOString().slice(0, 10), node: version, processor: cpus()[0]?.model ?? 'unknown', cores: cpus().length, topics: results };
}

const isReport = argv[2] === 'report' || argv.length === 2;
const asked = argv.slice(argv[2] === 'report' ? 3 : 2);
if (isReport && asked[0] === '--table' && asked.length === 1) writeReport([]);
else if (isReport && asked[0] === '--from') writeReport(asked.slice(1).map((file) => JSON.parse(readFileSync(file, 'utf8')) as BenchOutput));
else {
  const unknown = asked.filter((topic) => !known.includes(topic));
  if (unknown.length > 0) {
    stderr.write(`No bench named ${unknown.join(', ')}; there are ${known.join(', ')}.\n`);
    process.exit(2);
  }
  const output = await run(asked.length > 0 ? asked : known);
  stdout.write(`${JSON.stringify(output, null, 2)}\n`);
  if (isReport) writeReport([output]);
}
