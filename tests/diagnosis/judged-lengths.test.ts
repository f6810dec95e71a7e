/** Lengths through the whole judge: what it learns of the meter, and which readings it keeps for them. */
import { describe, expect, it } from 'vitest';
import { judgeAll } from '../../server/diagnosis/index.ts';
import type { JudgeSetup } from '../../server/diagnosis/index.ts';
import { columnsOf, Random } from '../signals/index.ts';

const INTERVAL = 0.1;
const setup: JudgeSetup & { interval: number } = {
  kind: 'supply', watching: 'wiggle', limits: { low: null, high: null }, interval: INTERVAL, aperture: INTERVAL, accuracy: null, leadOhms: null, depth: null,
  shiftAfter: null, missingCondition: null, claim: null,
};

/** Dropouts that the judge finds where 12 V are away from `start` to `end`, s, on a meter that takes each reading into account by `weight`. */
function dropoutsOf(opens: readonly (readonly [number, number])[], weight = 1) {
  const random = new Random(7);
  let shown = 12;
  const values = Array.from({ length: 1000 }, (_, i) => {
    const end = (i + 1) * INTERVAL;
    const open = opens.reduce((sum, [from, to]) => sum + Math.max(0, Math.min(to, end) - Math.max(from, end - INTERVAL)), 0);
    shown += weight * (12 - (12 * open) / INTERVAL - shown);
    return Math.round((shown + 0.003 * random.gauss()) * 1000) / 1000;
  });
  return judgeAll(setup, columnsOf(values, INTERVAL, { resolution: 0.001 })).dropouts;
}

describe('lengths of a take', () => {
  it('hold on a meter that averages without saying so', () => {
    const opens = [[20.02, 20.06], [40.03, 42.36], [60.07, 60.41], [80.01, 80.04]] as const;
    const found = dropoutsOf(opens, 0.5);
    expect(found).toHaveLength(opens.length);
    for (const [i, [from, to]] of opens.entries()) {
      const { estimate, low, high } = found[i]!.duration;
      expect(estimate).not.toBeNull();
      expect(low).toBeLessThan(to - from);
      expect(high).toBeGreaterThan(to - from);
    }
    // Those with a reading that was open throughout fix depth and length.
    for (const i of [1, 2]) expect(found[i]!.duration.high! / found[i]!.duration.low!).toBeLessThan(1.05);
  });
  it('count the first and the last reading, however little of it they hold', () => {
    for (const open of [[40.094, 40.36], [40.03, 40.306]] as const) {
      const { low, high } = dropoutsOf([open])[0]!.duration;
      expect(low).toBeLessThan(open[1] - open[0]);
      expect(high).toBeGreaterThan(open[1] - open[0]);
      expect(high! - low!).toBeLessThan(0.002);
    }
  });
  it('of two departures in one are those of the whole', () => {
    const [dropout] = dropoutsOf([[40.03, 40.33], [40.53, 40.83]]);
    expect(dropout).toMatchObject({ count: 2, duration: { estimate: null } });
    expect(dropout!.duration.low).toBeCloseTo(0.7, 6);
    expect(dropout!.duration.high).toBeCloseTo(0.9, 2);
  });
});
