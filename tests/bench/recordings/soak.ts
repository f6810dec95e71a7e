/**
 * A process of its own whose memory is measured: records 8 meters at 10,000 samples a second each, and reviews a long
 * session at the same time, as the service does. Arguments: long session's folder and name, seconds. Prints one JSON object.
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Library, Recorder } from '../../../server/recordings/index.ts';
import { cut, INFO, METER, takeRecord } from '../../recordings/support/samples.ts';
import { STREAMS } from './streams.ts';

const [longFolder = '', longName = '', seconds = '20'] = process.argv.slice(2);
const METERS = 8;
const RATE = 10_000;
const EVERY_MS = 50;

const folder = mkdtempSync(join(tmpdir(), 'loomtrace-soak-'));
let acknowledged = 0;
const troubles: string[] = [];
const recorder = Recorder.open({
  folder, onAcknowledged: (seq) => { acknowledged = seq; }, onTrouble: ({ message }) => troubles.push(message), onRecovered: () => undefined,
});
recorder.startSession(INFO, Array.from({ length: METERS }, (_, index) => ({ ...METER, index, interval: 1 / RATE })));
recorder.startTake(takeRecord(1));
const library = Library.open({ folder: longFolder });
const source = STREAMS[4]!.make((RATE * EVERY_MS) / 1000 * 40, 1);
const perBatch = (RATE * EVERY_MS) / 1000;

let largest = 0;
let sent = 0;
const behind: number[] = [];
const queries: number[] = [];
const measuring = setInterval(() => { largest = Math.max(largest, process.memoryUsage.rss()); }, 20);
const cpuBefore = process.cpuUsage();
const start = performance.now();
let rounds = 0;
const until = start + Number(seconds) * 1000;
let window = 0;
const review = async () => {
  while (performance.now() < until) {
    const before = performance.now();
    const span = 10_000 / 4 ** (window % 8);
    await library.trace(longName, 1, 0, (window % 50) * 10, (window % 50) * 10 + span, 1500);
    queries.push(performance.now() - before);
    window++;
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
};
const recording = new Promise<void>((resolve) => {
  const sending = setInterval(() => {
    const due = Math.floor((performance.now() - start) / EVERY_MS);
    for (; rounds < due; rounds++) {
      const at = (rounds % 40) * perBatch;
      for (let meter = 0; meter < METERS; meter++) {
        const piece = cut(source, at, at + perBatch);
        const shift = Math.floor(rounds / 40) * 40 * perBatch / RATE;
        recorder.appendSamples({ ...piece, meter, firstSeq: sent + 1, time: piece.time.map((time) => time + shift), arrival: piece.arrival.map((time) => time + shift) });
        sent += perBatch;
      }
    }
    behind.push(sent - acknowledged);
    if (performance.now() >= until) {
      clearInterval(sending);
      resolve();
    }
  }, EVERY_MS);
});
await Promise.all([review(), recording]);
await recorder.close();
clearInterval(measuring);
await library.close();
rmSync(folder, { recursive: true });
const cpu = process.cpuUsage(cpuBefore);
const sortedQueries = queries.sort((a, b) => a - b);
console.log(JSON.stringify({
  meters: METERS, samples_a_second_each: RATE, seconds: Number(seconds), samples: sent, all_acknowledged: acknowledged === sent, troubles,
  largest_rss_mb: Math.round(largest / 2 ** 20), most_samples_not_yet_acknowledged: Math.max(...behind),
  cpu_share_of_one_core: Number(((cpu.user + cpu.system) / 1e6 / Number(seconds)).toFixed(2)),
  review_query_ms: { median: sortedQueries[sortedQueries.length >> 1], max: sortedQueries.at(-1) },
}));
