import { describe, expect, it } from 'vitest';
import { measureAperture } from '../../server/diagnosis/aperture.ts';
import { findTapEdges } from '../../server/diagnosis/tap-edges.ts';
import { Random } from '../signals/random.ts';

/** A take of taps in front of a meter of interval 0.3 s: the lead is on or off for 1.2 to 3 s at a time. */
function tap(count: number, aperture: number, random: Random): { ends: number[]; values: number[] } {
  const changes = [3];
  while (changes.length < 2 * count) changes.push((changes.at(-1) as number) + random.between(1.2, 3));
  const ends: number[] = [];
  const values: number[] = [];
  for (let end = 0.3; end < (changes.at(-1) as number) + 2; end += 0.3) {
    // Part of the aperture during which the lead was on.
    let on = 0;
    for (let k = -1; k < changes.length; k += 2) {
      on += Math.max(0, Math.min(end, changes[k + 1] ?? Infinity) - Math.max(end - aperture, changes[k] ?? -Infinity));
    }
    ends.push(end);
    values.push(12.4 * (on / aperture) + 0.01 * random.gauss());
  }
  return { ends, values };
}

describe('findTapEdges', () => {
  it('finds every edge of the taps, and the two levels', () => {
    const { ends, values } = tap(50, 0.2, new Random(1));
    const found = findTapEdges(ends, values, 0.3);
    expect(found?.edges).toHaveLength(100);
    expect(found?.levels[0]).toBeCloseTo(0, 1);
    expect(found?.levels[1]).toBeCloseTo(12.4, 1);
    expect(found?.noise).toBeLessThan(0.02);
  });
  it('each edge holds the readings between the two levels, and no other edge', () => {
    const values = [12, 12, 12, 5, 0, 0, 0, 12, 12, 12];
    const found = findTapEdges(values.map((_, i) => i + 1), values, 1);
    expect(found?.edges).toEqual([{ values: [12, 12, 5, 0, 0], from: 12, to: 0 }, { values: [0, 0, 12, 12], from: 0, to: 12 }]);
  });
  it('leaves out an edge across a gap, and contacts too short to settle', () => {
    const values = [12, 12, 12, 0, 0, 0, 12, 0, 0, 0];
    expect(findTapEdges([1, 2, 3, 9, 10, 11, 12, 13, 14, 15], values, 1)?.edges).toEqual([]);
  });
  it('gives the aperture with limits that hold in 95 % of takes', () => {
    const random = new Random(20261125);
    for (const aperture of [0.06, 0.15, 0.3]) {
      const takes = 150;
      let held = 0;
      for (let i = 0; i < takes; i++) {
        const { ends, values } = tap(40, aperture, random);
        const taps = findTapEdges(ends, values, 0.3);
        const measured = taps === null ? null : measureAperture(taps.edges, taps.noise);
        if (measured !== null && measured.low * 0.3 <= aperture && aperture <= measured.high * 0.3) held++;
      }
      expect(held / takes, `${aperture} s`).toBeGreaterThan(0.95 - 3 * Math.sqrt((0.95 * 0.05) / takes));
    }
  });
  it('finds the levels where a meter averages over four readings and shows as much between them as at them', () => {
    // Off and on for five to eight readings in turn, out of step with nothing: the mean of the last four.
    const random = new Random(4);
    const truth = Array.from({ length: 60 }, (_, k) => Array.from({ length: 5 + Math.floor(4 * random.uniform()) }, () => (k % 2) * 12.4)).flat();
    const values = truth.map((_, i) => truth.slice(Math.max(0, i - 3), i + 1).reduce((sum, value) => sum + value, 0) / Math.min(4, i + 1) + 0.001 * random.gauss());
    const found = findTapEdges(values.map((_, i) => i + 1), values, 1);
    expect(found?.levels[0]).toBeCloseTo(0, 1);
    expect(found?.levels[1]).toBeCloseTo(12.4, 1);
    expect(found!.edges.length).toBeGreaterThan(50);
    expect(found?.crossings).toBe(59);
    expect(measureAperture(found!.edges, found!.noise)?.isAveraging).toBe(true);
  });
  it('says of no aperture that it is nothing: all edges between two readings leave it below what could have been seen', () => {
    const values = Array.from({ length: 120 }, (_, i) => (i % 10 < 5 ? 12 : 0));
    const found = findTapEdges(values.map((_, i) => i + 1), values, 1);
    const measured = measureAperture(found!.edges, found!.noise)!;
    expect(measured).toMatchObject({ edges: 23, low: 0 });
    // 1 - 0.025^(1/23), the exact limit of Clopper and Pearson at none of 23, over the 94 % of an aperture that shows.
    expect(measured.high).toBeCloseTo((1 - 0.025 ** (1 / 23)) / 0.94, 3);
    expect(measured.part).toBeGreaterThan(0);
    expect(measured.part).toBeLessThan(measured.high);
  });
  it('finds nothing in a steady take', () => {
    const random = new Random(2);
    const values = Array.from({ length: 100 }, () => 12 + 0.01 * random.gauss());
    const found = findTapEdges(values.map((_, i) => i + 1), values, 1);
    expect(found === null ? null : measureAperture(found.edges, found.noise)).toBeNull();
  });
});
