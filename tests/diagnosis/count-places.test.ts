import { describe, expect, it } from 'vitest';
import { CELLS, placesThatFit, REACH } from '../../server/diagnosis/count-places.ts';
import type { CountPlace } from '../../server/diagnosis/count-places.ts';
import { normalCdf } from '../../server/diagnosis/normal.ts';
import { Random } from '../signals/index.ts';

/** Readings of a level so many counts from the middle one; a part of them dips by up to three counts more. */
function shownCells(level: number, noise: number, readings: number, dips: number, random: Random): Float64Array {
  const cells = new Float64Array(CELLS);
  for (let i = 0; i < readings; i++) {
    const count = Math.round(level + noise * random.gauss() - (random.chance(dips) ? 3 * random.uniform() : 0));
    const cell = Math.min(CELLS - 1, Math.max(0, count + REACH));
    cells[cell] = (cells[cell] as number) + 1;
  }
  return cells;
}

/** Lowest and highest level that fit at about this noise; null when no such noise does. */
function levelsAt(places: readonly CountPlace[], noise: number): { low: number; high: number } | null {
  const noises = [...new Set(places.map((place) => place.noise))];
  const below = noises.filter((one) => one <= noise * 1.001).at(-1);
  const above = noises.find((one) => one >= noise * 0.999);
  if (below === undefined || above === undefined) return null;
  const levels = places.filter((place) => place.noise === below || place.noise === above).map(({ level }) => level);
  return { low: Math.min(...levels), high: Math.max(...levels) };
}

describe('levels and noises that fit the counts shown', () => {
  it('hold the true ones in 97 of 100 displays or more, with and without short dips', () => {
    const random = new Random(20261128);
    let held = 0;
    const displays = 200;
    for (let k = 0; k < displays; k++) {
      const level = random.between(-0.5, 0.5);
      const noise = random.logBetween(0.03, 0.7);
      const levels = levelsAt(placesThatFit(shownCells(level, noise, random.integer(128, 6000), random.pick([0, 0, 0.006]), random)), noise);
      if (levels !== null && levels.low - 0.004 <= level && level <= levels.high + 0.004) held++;
    }
    expect(held / displays).toBeGreaterThanOrEqual(0.97);
  });
  it('are few where three counts are shown often', () => {
    const places = placesThatFit(shownCells(-0.42, 0.52, 30_000, 0.006, new Random(3)));
    for (const { level, noise } of places) {
      expect(Math.abs(level + 0.42)).toBeLessThan(0.04);
      expect(Math.abs(noise - 0.52)).toBeLessThan(0.03);
    }
  });
  it('are many where the display stands still: any level in the middle of the count, and no noise that would have moved it', () => {
    const still = new Float64Array(CELLS);
    still[REACH] = 2000;
    const places = placesThatFit(still);
    expect(Math.min(...places.map(({ level }) => level))).toBeLessThan(-0.4);
    expect(Math.max(...places.map(({ level }) => level))).toBeGreaterThan(0.4);
    // Half a count is reached with 0.2 counts by one reading in 80, with 0.14 by one in 2,800.
    expect(Math.max(...places.map(({ noise }) => noise))).toBeLessThan(0.2);
  });
});

describe('the normal distribution', () => {
  it('holds at infinity', () => { expect([normalCdf(-Infinity), normalCdf(Infinity), normalCdf(-60), normalCdf(60)]).toEqual([0, 1, 0, 1]); });
});
