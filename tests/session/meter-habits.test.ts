import { describe, expect, it } from 'vitest';
import type { Reading } from '../../drivers/reading.ts';
import { ApertureWatch } from '../../server/session/aperture-watch.ts';
import { MeterHabits } from '../../server/session/meter-habits.ts';
import { Random } from '../signals/random.ts';

function volts(value: number, resolution = 0.001): Reading {
  return { quantity: 'voltage', coupling: 'dc', value: Math.round(value / resolution) * resolution, resolution, flags: 0 };
}

describe('MeterHabits', () => {
  it('measures noise within a quarter, one range only, whatever steps and drift there are', () => {
    const random = new Random(8);
    for (const noise of [0.004, 0.02, 0.1]) {
      const habits = new MeterHabits();
      habits.push(Array.from({ length: 30 }, () => volts(90, 0.1)));
      // A step of 3 V and a drift of 1 V a minute at ten readings a second.
      habits.push(Array.from({ length: 64 }, (_, i) => volts((i < 30 ? 12 : 15) + i / 600 + noise * random.gauss())));
      const { noise: measured, resolution } = habits.measured(0.1);
      expect(Math.abs((measured as number) / noise - 1)).toBeLessThan(0.4);
      expect(resolution).toBe(0.001);
    }
  });
  it('is not below what a count hides, remembers the largest number shown, and knows nothing at first', () => {
    const habits = new MeterHabits();
    expect(habits.measured(null)).toEqual({ interval: null, resolution: null, noise: null, largestShown: null });
    habits.push(Array.from({ length: 20 }, () => volts(5.999)));
    habits.push([volts(NaN), volts(0.5)]);
    expect(habits.measured(0.4)).toMatchObject({ interval: 0.4, largestShown: 5999 });
    expect(habits.measured(0.4).noise).toBeCloseTo(0.001 / Math.sqrt(12), 12);
  });
});

describe('ApertureWatch', () => {
  it('finds the aperture of a meter that averages over 0.7 of its interval from taps at any moment', () => {
    const random = new Random(4);
    const interval = 0.25;
    const aperture = 0.7 * interval;
    const watch = new ApertureWatch();
    // Part of the time on the voltage over the aperture, for a lead that is lifted and set down every 1 to 1.5 s.
    const edges = [0];
    while ((edges.at(-1) as number) < 150) edges.push((edges.at(-1) as number) + random.between(1, 1.5));
    const onTime = (from: number, to: number): number => edges.reduce((sum, edge, i) => (i % 2 === 0 ? sum + Math.max(0, Math.min(to, edges[i + 1] ?? 1e9) - Math.max(from, edge)) : sum), 0);
    for (let end = interval; end < 150; end += interval) watch.push([volts((12 * onTime(end - aperture, end)) / aperture)], Float64Array.of(end));
    const { aperture: measured, edgesNeeded, isAveraging } = watch.standing(interval);
    expect(measured!.low).toBeLessThan(aperture);
    expect(measured!.high).toBeGreaterThan(aperture);
    expect(Math.abs(measured!.estimate - aperture)).toBeLessThan(0.1 * interval);
    expect({ edgesNeeded, isAveraging }).toEqual({ edgesNeeded: 0, isAveraging: false });
  });
  it('says how many edges are wanted while there are too few', () => {
    const watch = new ApertureWatch();
    expect(watch.standing(0.1)).toEqual({ edges: 0, edgesNeeded: null, aperture: null, isAveraging: false, isTooShort: false });
    watch.push([12, 12, 12, 12, 0, 0, 0, 0, 12, 12, 12, 12].map((value) => volts(value)), Float64Array.from({ length: 12 }, (_, i) => i / 10));
    expect(watch.standing(0.1)).toMatchObject({ edges: 2, edgesNeeded: 8, aperture: null });
  });
});
