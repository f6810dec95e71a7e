/** Samples a second through the whole judge over a stored take, against a plain running mean of the same array. */
import { TakeJudge } from '../../../server/diagnosis/index.ts';
import { drawStream, Random, SimulatedStream } from '../../signals/index.ts';
import type { SampleColumns } from '../../../server/diagnosis/index.ts';

const SAMPLES = 4_000_000;
const ROUNDS = 5;

export function measureSpeed(seed: number): object {
  return Object.fromEntries([1_000, 10_000, 100_000].map((rate) => [`at ${rate} samples a second`, measure(seed, rate)]));
}

function measure(seed: number, rate: number): object {
  const random = new Random(seed);
  const drawn = drawStream('logger-1khz', random);
  const stream = new SimulatedStream({ ...drawn, interval: 1 / rate, aperture: 1 / rate }, seed);
  const samples = stream.next(SAMPLES);
  const ratios: number[] = [];
  let best = 0;
  for (let round = 0; round < ROUNDS; round++) {
    const start = performance.now();
    const judge = new TakeJudge({
      kind: 'supply', watching: 'road', limits: { low: 11, high: 15 }, interval: null, aperture: null, accuracy: null, leadOhms: null, depth: null,
      shiftAfter: null, missingCondition: null, claim: null,
    });
    judge.push(samples);
    const judged = performance.now() - start;
    const plain = timeRunningMean(samples);
    ratios.push(judged / plain);
    best = Math.max(best, samples.length / judged / 1000);
  }
  return { millionSamplesPerSecond: Number(best.toPrecision(3)), timesRunningMean: Number([...ratios].sort((a, b) => a - b)[ROUNDS >> 1]?.toPrecision(3)), dropouts: stream.dropouts.length };
}

function timeRunningMean({ value, length }: SampleColumns): number {
  const start = performance.now();
  let mean = 0;
  for (let i = 0; i < length; i++) mean += ((value[i] as number) - mean) / (i + 1);
  const time = performance.now() - start;
  if (Number.isNaN(mean)) throw new Error('the stream holds no numbers');
  return time;
}
