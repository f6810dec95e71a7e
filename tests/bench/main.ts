/**
 * `npm run bench [-- TOPIC ...]`: runs tests/bench/TOPIC.bench.ts, all by default, and prints one JSON object on standard
 * output. Ratios taken in one run; seeds are fresh and printed with the figures.
 */
import { readdirSync } from 'node:fs';
import { cpus } from 'node:os';
import { argv, stderr, stdout, version } from 'node:process';

export interface Bench {
  readonly name: string;
  run(): Promise<object>;
}

const topics = readdirSync(new URL('.', import.meta.url))
  .flatMap((file) => /^(.+)\.bench\.ts$/.exec(file)?.[1] ?? []);
const asked = argv.slice(2);
const unknown = asked.filter((topic) => !topics.includes(topic));
if (unknown.length > 0) {
  stderr.write(`No bench named ${unknown.join(', ')}; there are ${topics.join(', ')}.\n`);
  process.exit(2);
}
const results: Record<string, object> = {};
for (const topic of asked.length > 0 ? asked : topics) {
  stderr.write(`bench: ${topic} ...\n`);
  const bench = ((await import(`./${topic}.bench.ts`)) as { default: Bench }).default;
  results[bench.name] = await bench.run();
}
stdout.write(`${JSON.stringify({ node: version, processor: cpus()[0]?.model, cores: cpus().length, ...results }, null, 2)}\n`);
