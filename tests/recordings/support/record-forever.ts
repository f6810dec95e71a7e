/**
 * A process to be killed: records a known sequence from several meters until it dies, and writes what it sent and
 * what was acknowledged to its output ("s 123 45.6" / "a 100 45.6": sequence number and milliseconds on its clock).
 * Arguments: folder, meters, samples a batch, milliseconds between batches, samples a take.
 */
import { writeSync } from 'node:fs';
import { Recorder } from '../../../server/recordings/index.ts';
import { knownBatch } from './known-sequence.ts';
import { INFO, JUDGEMENT, METER, takeRecord } from './samples.ts';

const [folder = '', meters = '1', size = '10', everyMs = '10', takeLength = '5000'] = process.argv.slice(2);
const say = (line: string) => writeSync(1, `${line}\n`);
const recorder = Recorder.open({
  folder,
  onAcknowledged: (seq) => say(`a ${seq} ${performance.now()}`),
  onTrouble: ({ message }) => say(`t ${message}`),
  onRecovered: () => undefined,
});
recorder.startSession(INFO, Array.from({ length: Number(meters) }, (_, index) => ({ ...METER, index })));
let take = 1;
let seq = 1;
let inTake = 0;
recorder.startTake(takeRecord(take));
setInterval(() => {
  for (let meter = 0; meter < Number(meters); meter++) {
    recorder.appendSamples(knownBatch(seq, Number(size), meter, take));
    seq += Number(size);
    inTake += Number(size);
  }
  say(`s ${seq - 1} ${performance.now()}`);
  if (inTake >= Number(takeLength)) {
    recorder.endTake(takeRecord(take, { end: seq / 1000, ending: 'next-check' }), JUDGEMENT);
    recorder.startTake(takeRecord(++take, { start: seq / 1000 }));
    inTake = 0;
  }
}, Number(everyMs));
