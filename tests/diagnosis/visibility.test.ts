import { describe, expect, it } from 'vitest';
import { entryThresholdZ } from '../../server/diagnosis/distributions.ts';
import { catchChance, lengthCaughtWith, shortestVisibleDropout, smallestVisibleSeriesOhms, sureDropout } from '../../server/diagnosis/visibility.ts';
import type { MeterView } from '../../server/diagnosis/visibility.ts';
import { Random } from '../signals/random.ts';

const handheld: MeterView = { interval: 0.4, aperture: 0.3, threshold: 0.06, depth: 12, noise: 0.01, resolution: 0 };

/** Plays dropouts of one length to a meter, reading by reading, and counts those that show. */
function simulateCatching(length: number, view: MeterView, random: Random, trials: number): number {
  const { interval, aperture, depth, resolution } = view;
  const analog = Math.sqrt(Math.max(0, view.noise ** 2 - resolution ** 2 / 12));
  let caught = 0;
  for (let trial = 0; trial < trials; trial++) {
    const start = random.between(0, interval);
    const fraction = view.levelFraction ?? random.uniform();
    const level = (1000 + fraction) * resolution;
    for (let i = 0; (i + 1) * interval - aperture < start + length; i++) {
      const close = (i + 1) * interval;
      const overlap = Math.max(0, Math.min(start + length, close) - Math.max(start, close - aperture));
      if (overlap === 0) continue;
      const signal = level - (depth * overlap) / aperture + analog * random.gauss();
      const shown = resolution === 0 ? signal : Math.round(signal / resolution) * resolution;
      if (level - shown > view.threshold) {
        caught++;
        break;
      }
    }
  }
  return caught / trials;
}

describe('the shortest dropout that may show and the length that can not be missed', () => {
  it('shortest: one aperture holds all of it and falls by the threshold', () => {
    expect(shortestVisibleDropout(handheld)).toBeCloseTo((0.06 * 0.3) / 12, 12);
    expect(shortestVisibleDropout({ ...handheld, depth: 0.05 })).toBeNull();
  });
  it('sure: without noise, just longer is always caught, and shorter than the shortest never', () => {
    for (const aperture of [0.1, 0.3, 0.4, 0.8]) {
      const view = { ...handheld, aperture, noise: 0 };
      const sure = sureDropout(view) as number;
      const shortest = shortestVisibleDropout(view) as number;
      expect(catchChance(sure * 1.0001, view)).toBeCloseTo(1, 9);
      if (sure > shortest) expect(catchChance(sure * 0.99, view)).toBeLessThan(1);
      expect(catchChance(shortest * 0.999, view)).toBe(0);
    }
  });
});

describe('catchChance(length, view)', () => {
  it('agrees with simulated meters within 0.02: noise, dead time, overlapping apertures and coarse displays', () => {
    const random = new Random(20261125);
    let worst = 0;
    for (let i = 0; i < 60; i++) {
      const interval = random.logBetween(1e-3, 1);
      const aperture = interval * random.pick([1, random.between(0.05, 1), random.between(1, 2.5)]);
      const depth = random.between(1, 12);
      const resolution = random.chance(0.4) ? 0 : depth * random.logBetween(1e-4, 0.1);
      const noise = Math.hypot(depth * random.logBetween(1e-4, 0.03), resolution / Math.sqrt(12));
      const threshold = Math.max(entryThresholdZ(interval) * noise, 1.5 * resolution);
      const view: MeterView = { interval, aperture, depth, resolution, noise, threshold, ...(random.chance(0.5) && { levelFraction: random.uniform() }) };
      // Lengths around the shortest visible one, where the noise decides, and up to several intervals.
      const length = Math.min(5 * interval, ((threshold * aperture) / depth) * random.logBetween(0.5, 30));
      worst = Math.max(worst, Math.abs(catchChance(length, view) - simulateCatching(length, view, random, 20_000)));
    }
    expect(worst).toBeLessThan(0.02);
  });
  it('rises with the length, to 1', () => {
    let last = 0;
    for (let length = 1e-4; length < 2; length *= 1.1) {
      const chance = catchChance(length, handheld);
      expect(chance).toBeGreaterThanOrEqual(last - 1e-6);
      last = chance;
    }
    expect(last).toBeCloseTo(1, 9);
  });
  it('is a chance for every meter and length: within 0..1', () => {
    const random = new Random(9);
    for (let i = 0; i < 500; i++) {
      const resolution = random.logBetween(1e-3, 0.3);
      const view = { ...handheld, resolution, noise: Math.hypot(random.logBetween(1e-4, 0.3), resolution / Math.sqrt(12)), threshold: random.logBetween(0.01, 3), aperture: random.between(0.02, 0.8) };
      const chance = catchChance(random.logBetween(1e-4, 5), view);
      expect(chance).toBeGreaterThanOrEqual(0);
      expect(chance).toBeLessThanOrEqual(1);
    }
  });
  it('does not depend on the unit of the signal or of time', () => {
    const chance = catchChance(0.002, handheld);
    expect(chance).toBeGreaterThan(0.2);
    expect(catchChance(0.002, { ...handheld, threshold: 60, depth: 12_000, noise: 10 })).toBeCloseTo(chance, 12);
    expect(catchChance(2, { ...handheld, interval: 400, aperture: 300 })).toBeCloseTo(chance, 9);
  });
  it('a dropout shallower than the threshold by far is never caught, one of no length neither', () => {
    expect(catchChance(5, { ...handheld, depth: 0.001 })).toBeLessThan(1e-6);
    expect(catchChance(0, handheld)).toBe(0);
    expect(() => catchChance(-1, handheld)).toThrow(RangeError);
    expect(() => catchChance(1, { ...handheld, aperture: 0 })).toThrow(RangeError);
  });
  it('lengthCaughtWith(chance) is the length that is caught so often', () => {
    for (const chance of [0.1, 0.5, 0.95]) {
      const length = lengthCaughtWith(chance, handheld) as number;
      expect(catchChance(length, handheld)).toBeCloseTo(chance, 2);
    }
    expect(lengthCaughtWith(0.9, { ...handheld, depth: 0.01 })).toBeNull();
  });
});

describe('smallestVisibleSeriesOhms', () => {
  it('is what drops the threshold across itself with the load current', () => {
    const ohms = smallestVisibleSeriesOhms(12, 0.06, 6.9) as number;
    expect((12 * ohms) / (6.9 + ohms)).toBeCloseTo(0.06, 12);
  });
  it('is kilohms into a bare meter of 10 Mohm: volts without load are false comfort', () => {
    expect(smallestVisibleSeriesOhms(12, 0.06, 10e6)).toBeGreaterThan(50_000);
    expect(smallestVisibleSeriesOhms(0.05, 0.06, 10)).toBeNull();
  });
});
