/** Samples a second of processor time through the whole judge over a stored take, against a plain running mean of the same array. */
import { TakeJudge } from '../../../server/diagnosis/index.ts';
import { drawStream, Random, SimulatedStream } from '../../signals/index.ts';
import type { SampleColumns } from '../../../server/diagnosis/index.ts';

const SAMPLES = 1_000_000;
/** Streams drawn for each rate: what a reading costs depends on its noise. */
const STREAMS = 9;
/** Of each the fastest counts: what comes between takes time, and nothing gives any. */
const ROUNDS = 9;

export function measureSpeed(seed: number): object {
  return Object.fromEntries([1_000, 10_000, 100_000].map((rate) => [`at ${rate} samples a second`, measure(seed, rate)]));
}

/** Of the streams: the median, and the slowest and fastest. */
function measure(seed: number, rate: number): object {
  const random = new Random(seed);
  const streams = Array.from({ length: STREAMS }, () => measureStream(random, rate));
  const millions = streams.map(({ million }) => million).sort((a, b) => a - b);
  const ratios = streams.map(({ ratio }) => ratio).sort((a, b) => a - b);
  return {
    millionSamplesPerSecond: figure(millions[STREAMS >> 1]), slowest: figure(millions[0]), fastest: figure(millions[STREAMS - 1]), timesRunningMean: figure(ratios[STREAMS >> 1]), streams: STREAMS,
  };
}

function measureStream(random: Random, rate: number): { million: number; ratio: number } {
  const drawn = drawStream('logger-1khz', random);
  const samples = new SimulatedStream({ ...drawn, interval: 1 / rate, aperture: 1 / rate }, random.integer(1, 2 ** 31)).next(SAMPLES);
  const ratios: number[] = [];
  let best = 0;
  for (let round = 0; round < ROUNDS; round++) {
    const start = processorTime();
    const judge = new TakeJudge({
      kind: 'supply', watching: 'road', limits: { low: 11, high: 15 }, interval: null, aperture: null, accuracy: null, leadOhms: null, depth: null,
      shiftAfter: null, missingCondition: null, claim: null,
    });
    judge.push(samples);
    const judged = processorTime() - start;
    ratios.push(judged / timeRunningMean(samples));
    best = Math.max(best, samples.length / judged / 1000);
  }
  return { million: best, ratio: ratios.sort((a, b) => a - b)[ROUNDS >> 1] as number };
}

/** In ms: what other processes take from this one does not count; compiling and collecting do. */
function processorTime(): number {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1000;
}

function figure(value: number | undefined): number {
  return Number((value as number).toPrecision(3));
}

function timeRunningMean({ value, length }: SampleColumns): number {
  const start = processorTime();
  let mean = 0;
  for (let i = 0; i < length; i++) mean += ((value[i] as number) - mean) / (i + 1);
  const time = processorTime() - start;
  if (Number.isNaN(mean)) throw new Error('the stream holds no numbers');
  return time;
}
