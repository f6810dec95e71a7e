/** Streams of samples as typical meters give them, seeded: what sizes and rates are measured on. */
import { Flag, functionCode } from '../../../drivers/reading.ts';
import type { SampleBatch } from '../../../server/session/session.ts';
import { emptyBatch, gaussian, randomNumbers } from '../../recordings/support/samples.ts';

export interface StreamKind {
  readonly name: string;
  /** s */
  readonly interval: number;
  readonly make: (n: number, seed: number) => SampleBatch;
}

interface Recipe {
  readonly interval: number;
  readonly decimals: number;
  /** Of the meter's noise, in counts. */
  readonly noise: number;
  readonly signal: (t: number, random: () => number) => number;
  /** Samples that arrive together. */
  readonly chunk: number;
  /** Spread of the arrival, us. */
  readonly jitterUs: number;
  readonly code: number;
  /** Beyond this the display shows over-range. */
  readonly range: number;
}

function stream({ interval, decimals, noise, signal, chunk, jitterUs, code, range }: Recipe) {
  return (n: number, seed: number): SampleBatch => {
    const random = randomNumbers(seed);
    const batch = emptyBatch(n, 0, 1, 1);
    const scale = 10 ** decimals;
    const stepUs = Math.round(interval * 1e6);
    let arrivalUs = 0;
    let openFor = 0;
    for (let i = 0; i < n; i++) {
      const atUs = (i + 1) * stepUs;
      if (i % chunk === 0) arrivalUs = Math.min(n, i + chunk) * stepUs + 1500 + Math.round(Math.abs(gaussian(random)) * jitterUs);
      if (openFor > 0) openFor--;
      else if (random() < 1 / 20_000) openFor = 1 + Math.floor(random() * 5);
      const level = openFor > 0 ? (code === functionCode('resistance', 'none') ? Infinity : 0) : signal(atUs / 1e6, random);
      const shown = Math.round(level * scale + noise * gaussian(random));
      const isOver = !(Math.abs(shown) < range * scale);
      batch.time[i] = atUs / 1e6;
      batch.arrival[i] = arrivalUs / 1e6;
      batch.value[i] = isOver ? NaN : Number(`${shown}e-${decimals}`);
      batch.resolution[i] = Number(`1e-${decimals}`);
      batch.flags[i] = Flag.autoRange | (isOver ? Flag.overRange : 0);
      batch.functionCode[i] = code;
    }
    return batch;
  };
}

const volts = functionCode('voltage', 'dc');
const ohms = functionCode('resistance', 'none');

export const STREAMS: readonly StreamKind[] = [
  {
    name: 'handheld, 2.5/s, battery volts, 10 mV steps',
    interval: 0.4,
    make: stream({ interval: 0.4, decimals: 2, noise: 0.4, signal: (t) => 12.4 + 0.1 * Math.sin(t / 300), chunk: 1, jitterUs: 3000, code: volts, range: 60 }),
  },
  {
    name: 'handheld, 10/s, engine running, 1 mV steps',
    interval: 0.1,
    make: stream({ interval: 0.1, decimals: 3, noise: 2, signal: (t) => 13.9 + 0.03 * Math.sin(t * 2.1) + 0.05 * Math.sin(t / 40), chunk: 1, jitterUs: 2000, code: volts, range: 60 }),
  },
  {
    name: 'handheld, 10/s, continuity in ohms, 0.01 ohm steps',
    interval: 0.1,
    make: stream({ interval: 0.1, decimals: 2, noise: 0.8, signal: () => 0.41, chunk: 1, jitterUs: 2000, code: ohms, range: 600 }),
  },
  {
    name: 'bench meter, 1,000/s in chunks of 20, 0.1 mV steps',
    interval: 0.001,
    make: stream({ interval: 0.001, decimals: 4, noise: 6, signal: (t) => 12.1 + 0.02 * Math.sin(t * 600), chunk: 20, jitterUs: 400, code: volts, range: 60 }),
  },
  {
    name: 'logger, 10,000/s in chunks of 500, 1 mV steps',
    interval: 0.0001,
    make: stream({ interval: 0.0001, decimals: 3, noise: 1.2, signal: (t) => 12.1 + 0.005 * Math.sin(t * 40), chunk: 500, jitterUs: 400, code: volts, range: 60 }),
  },
];
