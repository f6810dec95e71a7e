import { describe, expect, it } from 'vitest';
import { averagingOf, isExplained, PLAIN, tailOf } from '../../server/diagnosis/averaging.ts';
import type { Tail } from '../../server/diagnosis/averaging.ts';
import { estimateDuration } from '../../server/diagnosis/duration.ts';
import { drawDropout } from '../signals/one-dropout.ts';
import { Random } from '../signals/random.ts';

const NOISE = 0.01;
/** Readings of a meter after an open of 12 V: `partly` of the first one is still in it. */
function tail(weight: number, partly: number, random: Random): Tail {
  let shown = 12;
  const after = Array.from({ length: 8 }, (_, i) => {
    shown += weight * ((i === 0 ? 12 * partly : 0) - shown);
    return shown + NOISE * random.gauss();
  });
  return { top: 12 + NOISE * random.gauss(), after, noise: NOISE };
}
const meanWeight = (nodes: ReturnType<typeof averagingOf>): number => nodes.reduce((sum, { weight, chance }) => sum + weight * chance, 0);

describe('how a meter averages', () => {
  it('is told by a single end of a full open: weight 0.4 to within five deviations', () => {
    const nodes = averagingOf([tail(0.4, 0, new Random(1))]);
    // Least squares through 12 x 0.6^k: the slope is known to s / sqrt(sum (12 k 0.6^(k-1))^2), about s / 24.
    expect(Math.abs(meanWeight(nodes) - 0.4)).toBeLessThan((5 * NOISE) / 20);
    expect(nodes.every(({ weight }) => weight < 1)).toBe(true);
    expect(nodes.reduce((sum, { chance }) => sum + chance, 0)).toBeCloseTo(1, 12);
  });
  it('is told apart from an end within a reading', () => {
    const random = new Random(2);
    expect(meanWeight(averagingOf([tail(1, 0.4, random), tail(1, 0.7, random)]))).toBeGreaterThan(1 - (5 * NOISE) / 12);
    expect(Math.abs(meanWeight(averagingOf([tail(0.6, 0.5, random)])) - 0.6)).toBeLessThan((5 * NOISE) / 10);
  });
  it('is known the better the more dropouts were seen', () => {
    const random = new Random(3);
    const width = (count: number): number => {
      const weights = averagingOf(Array.from({ length: count }, () => tail(0.5, random.uniform(), random))).map(({ weight }) => weight);
      return Math.max(...weights) - Math.min(...weights);
    };
    expect(width(16)).toBeLessThan(width(1) / 2);
  });
  it('leaves both possible where nothing was seen', () => {
    const nodes = averagingOf([]);
    expect(nodes[0]).toEqual({ weight: 1, chance: 0.5 });
    expect(Math.min(...nodes.map(({ weight }) => weight))).toBeLessThan(0.4);
  });
  it('is not told by what chatters', () => {
    expect(isExplained({ top: 12, after: [1, 9, 2, 0, 0, 0], noise: NOISE })).toBe(false);
    expect(isExplained({ top: 12, after: [6, 3, 0, 0, 0], noise: NOISE })).toBe(false);
    expect(isExplained({ top: 12, after: [6, 3, 1.5, 0.75, 0.375], noise: NOISE })).toBe(true);
  });
  it('ends where readings are missing', () => {
    const departures = [0, 0, 12, 3, 0, 0, 0];
    const readings = { departures, first: 2, last: 3, ends: [1, 2, 3, 4, 5, 8, 9] };
    expect(tailOf(readings, NOISE, 1)?.after).toEqual([3, 0]);
    expect(tailOf({ ...readings, ends: [1, 2, 3, 6, 7, 8, 9] }, NOISE, 1)).toBeNull();
  });
  it('lets lengths cover the truth in 93 to 97 %, with nothing known of the meter beforehand but the dropout itself', () => {
    const random = new Random(20261128);
    for (const kind of ['averaging', 'no dead time'] as const) {
      let judged = 0;
      let covered = 0;
      while (judged < 80) {
        const drawn = drawDropout(kind, random);
        if (drawn === null) continue;
        const end = tailOf(drawn.readings, drawn.view.noise, drawn.view.interval);
        const { low, high } = estimateDuration(drawn.readings, { ...drawn.view, averaging: averagingOf(end !== null && isExplained(end) ? [end] : []) });
        judged++;
        if ((low ?? 0) <= drawn.length && drawn.length <= (high ?? Infinity)) covered++;
      }
      // 80 cases: three standard errors on each side of 93 and 97 %.
      expect(covered / judged, kind).toBeGreaterThan(0.93 - 3 * Math.sqrt((0.93 * 0.07) / judged));
      expect(covered / judged, kind).toBeLessThan(Math.min(1, 0.97 + 3 * Math.sqrt((0.97 * 0.03) / judged)) + 1e-9);
    }
  });
  it('counts as none where it makes less than the noise of a reading', () => {
    const readings = { ends: [1, 2, 3, 4, 5, 6, 7], departures: [0, 0, 3, 12, 6, 0, 0], first: 2, last: 4 };
    const view = { interval: 1, aperture: 1, noise: NOISE, resolution: 0, threshold: 0.05, fullDepth: 12 };
    expect(estimateDuration(readings, { ...view, averaging: [{ weight: 1 - NOISE / 24, chance: 1 }] })).toEqual(estimateDuration(readings, { ...view, averaging: PLAIN }));
  });
});
