import { describe, expect, it } from 'vitest';
import { measureAperture } from '../../server/diagnosis/aperture.ts';
import type { Edge } from '../../server/diagnosis/aperture.ts';
import { Random } from '../signals/random.ts';

/** Lead lifted or set down at an unknown moment, in front of a meter of interval 1. */
function drawEdge(aperture: number, noise: number, random: Random, weight = 1): Edge {
  const at = 2 + random.uniform();
  const [from, to] = random.chance(0.5) ? [12, 0] : [0, 12];
  let averaged = from;
  const values = Array.from({ length: 6 }, (_, i) => {
    const end = i + 1;
    const after = Math.min(1, Math.max(0, (end - at) / aperture));
    averaged += weight * (from + (to - from) * after - averaged);
    return averaged + noise * random.gauss();
  });
  return { values, from, to };
}
const draw = (count: number, aperture: number, random: Random): Edge[] => Array.from({ length: count }, () => drawEdge(aperture, 0.01, random));

describe('measureAperture', () => {
  it('limits hold the true aperture in at least 95 % of measurements, from 15 % of the interval to all of it', () => {
    const random = new Random(20261125);
    for (const aperture of [0.15, 0.5, 0.8, 1]) {
      const runs = 400;
      let held = 0;
      for (let i = 0; i < runs; i++) {
        const { low, high } = measureAperture(draw(60, aperture, random), 0.01) as { low: number; high: number };
        if (low <= aperture && aperture <= high) held++;
      }
      expect(held / runs, `${aperture}`).toBeGreaterThan(0.95 - 3 * Math.sqrt((0.95 * 0.05) / runs));
    }
  });
  it('100 edges give the aperture within a tenth of the interval, and then it needs no more', () => {
    const measured = measureAperture(draw(100, 0.5, new Random(1)), 0.01);
    expect(Math.abs((measured?.part as number) - 0.5)).toBeLessThan(0.15);
    expect(measureAperture(draw(130, 0.5, new Random(2)), 0.01)?.edgesNeeded).toBe(0);
  });
  it('says how many more edges it needs', () => {
    const few = measureAperture(draw(20, 0.5, new Random(3)), 0.01);
    expect(few?.edgesNeeded).toBeGreaterThan(50);
    expect(few?.edgesNeeded).toBeLessThan(100);
    expect(measureAperture(draw(9, 0.5, new Random(4)), 0.01)).toBeNull();
  });
  it('notices a meter that averages over several readings', () => {
    const random = new Random(5);
    const averaging = Array.from({ length: 40 }, () => drawEdge(1, 0.01, random, 0.4));
    expect(measureAperture(averaging, 0.01)?.isAveraging).toBe(true);
    expect(measureAperture(draw(40, 0.7, random), 0.01)?.isAveraging).toBe(false);
  });
  it('takes no edge that the noise could hide', () => {
    const random = new Random(6);
    expect(measureAperture(draw(40, 0.7, random), 1)).toBeNull();
  });
});
