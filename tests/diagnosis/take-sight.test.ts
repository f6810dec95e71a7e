import { describe, expect, it } from 'vitest';
import type { JudgeSetup } from '../../server/diagnosis/index.ts';
import type { ChanceRange } from '../../server/diagnosis/coarse-sight.ts';
import { TakeSight } from '../../server/diagnosis/take-sight.ts';
import { catchChance } from '../../server/diagnosis/visibility.ts';
import { columnsOf, Random } from '../signals/index.ts';
import { caughtIn } from '../support/caught-in.ts';

const meter = { interval: 0.1, aperture: 0.06 };
const moment = { entry: 0.06, noise: 0.01, resolution: 0, depth: 12 };
const at = (change: Partial<typeof moment>, length: number): number => {
  const { entry, noise, resolution, depth } = { ...moment, ...change };
  return catchChance(length, { ...meter, threshold: entry, noise, resolution, depth });
};

const setup: JudgeSetup = {
  kind: 'supply', watching: 'wiggle', limits: { low: null, high: null }, interval: null, aperture: null, accuracy: null, leadOhms: null, depth: null, shiftAfter: null,
  missingCondition: null, claim: null,
};

describe('the chance of a whole take', () => {
  it('is that of the moment where nothing changed, but for the steps in which it is kept', () => {
    const sight = new TakeSight();
    sight.note(moment, 100);
    sight.note(moment, 900);
    for (const length of [0.0004, 0.003, 0.03]) expect(Math.abs((sight.chance(length, meter, 5)?.low ?? Number.NaN) - at({}, length))).toBeLessThan(0.004);
  });
  it('is the mean over the time, weighed by readings, where the noise changed', () => {
    const sight = new TakeSight();
    sight.note(moment, 3000);
    sight.note({ ...moment, entry: 0.6, noise: 0.1 }, 1000);
    const length = 0.004;
    expect(sight.chance(length, meter, 5)?.low).toBeCloseTo(0.75 * at({}, length) + 0.25 * at({ entry: 0.6, noise: 0.1 }, length), 2);
  });
  // Noise and deviations are each kept to half a step: at 12 deviations that is 0.03 of one.
  it('counts what the noise seen later takes back: the threshold of the end holds for all of it', () => {
    const sight = new TakeSight();
    sight.note(moment, 1000);
    expect(Math.abs((sight.chance(0.0006, meter, 12)?.low ?? Number.NaN) - at({ entry: 0.12 }, 0.0006))).toBeLessThan(0.006);
  });
  it('is not known before anything was noted', () => {
    const sight = new TakeSight();
    sight.note({ ...moment, entry: Number.NaN }, 10);
    expect(sight.chance(0.1, meter, 5)).toBeNull();
  });
  it('stays the mean, a little coarser, when everything changes all the time', () => {
    const sight = new TakeSight();
    const random = new Random(4);
    let sum = 0;
    for (let k = 0; k < 2000; k++) {
      const noise = random.logBetween(0.001, 0.3);
      const entry = noise * random.between(5, 8);
      sight.note({ ...moment, noise, entry }, 10);
      sum += at({ noise, entry }, 0.002) / 2000;
    }
    expect(Math.abs((sight.chance(0.002, meter, 5)?.low ?? Number.NaN) - sum)).toBeLessThan(0.01);
  });
  it('agrees with what the judge catches, where the noise grows to the threefold', () => {
    const random = new Random(11);
    const [interval, aperture, level, length, apart] = [0.05, 0.04, 12, 0.0011, 100] as const;
    const starts: number[] = [];
    const values: number[] = [];
    for (let i = 0; i < 200_000; i++) {
      if (i % apart === 0) starts.push((i + 50 + random.uniform()) * interval);
      const start = starts.at(-1) as number;
      const overlap = Math.max(0, Math.min(start + length, (i + 1) * interval) - Math.max(start, (i + 1) * interval - aperture));
      values.push(level - (level * overlap) / aperture + 0.02 * 3 ** (i / 200_000) * random.gauss());
    }
    const { said, caught } = caughtIn(columnsOf(values, interval), starts, { ...setup, interval, aperture }, length);
    expect(caught).toBeGreaterThan(0.5);
    expect(caught).toBeLessThan(0.9);
    // Three standard errors of the simulation.
    expect(Math.abs(said.low - caught)).toBeLessThan(3 * Math.sqrt((caught * (1 - caught)) / starts.length));
  });
});

/** Readings from one dropout to the next. */
const APART = 160;

describe('the chance of a whole take on a coarse display', () => {
  const [interval, aperture, count, dropouts] = [0.1, 0.08, 0.1, 400];
  /** A steady level at `place` counts from a whole count, with `noise` counts of noise under it. */
  function display(place: number, noise: number, length: number, random: Random): { said: ChanceRange; caught: number } {
    const starts: number[] = [];
    const values: number[] = [];
    const level = (120 + place) * count;
    for (let i = 0; i < APART * dropouts; i++) {
      if (i % APART === 0) starts.push((i + APART / 2 + random.uniform()) * interval);
      const start = starts.at(-1) as number;
      const overlap = Math.max(0, Math.min(start + length, (i + 1) * interval) - Math.max(start, (i + 1) * interval - aperture));
      values.push(Math.round(level / count - (level * overlap) / aperture / count + noise * random.gauss()) * count);
    }
    return caughtIn(columnsOf(values, interval, { resolution: count }), starts, { ...setup, interval, aperture }, length);
  }
  const margin = 3.5 * Math.sqrt(0.25 / dropouts);

  it('lies within the stated range, for levels anywhere between two counts and any noise under them', () => {
    const random = new Random(20261128);
    for (let k = 0; k < 6; k++) {
      const length = ((1.5 + random.between(0, 1.5)) * count * aperture) / 12;
      const { said, caught } = display(random.between(-0.5, 0.5), random.logBetween(0.03, 0.6), length, random);
      expect(caught).toBeGreaterThan(said.low - margin);
      expect(caught).toBeLessThan(said.high + margin);
    }
  });
  it('is one number where the display shows enough counts to tell level and noise', () => {
    const { said } = display(0.2, 0.4, 0.002, new Random(5));
    expect(said.high - said.low).toBeLessThan(0.02);
  });
  it('is a wide range where a display stands still and the length is near the shortest visible one, and a narrow one for a long dropout', () => {
    const still = display(0.3, 0.03, 0.00115, new Random(6)).said;
    expect(still.low).toBeLessThan(0.02);
    expect(still.high).toBeGreaterThan(0.7);
    const long = display(0.3, 0.03, 0.05, new Random(6)).said;
    expect(long.high - long.low).toBeLessThan(0.02);
  });
});
