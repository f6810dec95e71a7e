import { describe, expect, it } from 'vitest';
import {
  claimStanding, compareBeforeAfter, exposureNeeded, perFlexUpperLimit, rateLimitPerHour, rateLowerLimit, rateUpperLimit,
} from '../../server/diagnosis/claims.ts';
import { poissonCdf } from '../../server/diagnosis/distributions.ts';
import { comparisonValues } from '../reference/statistics-scipy.ts';
import { ruleOfThreeTrials } from '../reference/statistics.ts';
import { Random } from '../signals/random.ts';

function poisson(random: Random, mean: number): number {
  let count = 0;
  for (let left = random.exponential(1); left < mean; left += random.exponential(1)) count++;
  return count;
}

describe('what silence proves', () => {
  it('59 clean flexes show under 5 % per flex, 58 do not', () => {
    expect(perFlexUpperLimit(0, 59)).toBeLessThan(0.05);
    expect(perFlexUpperLimit(0, 58)).toBeGreaterThan(0.05);
    expect(claimStanding({ per: 'flex', rate: 0.05, length: 0.02 }, 0, 59)).toMatchObject({ isMet: true, needed: 0 });
    expect(claimStanding({ per: 'flex', rate: 0.05, length: 0.02 }, 0, 20)).toMatchObject({ isMet: false, needed: 39 });
  });
  it('comes close to the rule of three for more than 30 flexes', () => {
    for (const flexes of ruleOfThreeTrials) {
      expect(perFlexUpperLimit(0, flexes) / (3 / flexes)).toBeGreaterThan(0.95);
      expect(perFlexUpperLimit(0, flexes) / (3 / flexes)).toBeLessThan(1);
    }
  });
  it('a clean hour shows under 2.996 an hour, and half the chance of catching doubles that', () => {
    expect(rateLimitPerHour(0, 3600)).toBeCloseTo(-Math.log(0.05), 12);
    expect(rateLimitPerHour(0, 3600, 0.5)).toBeCloseTo(-2 * Math.log(0.05), 12);
  });
  it('says how much more is needed, also after dropouts: what it asks for is enough, and one flex less is not', () => {
    for (const dropouts of [0, 1, 4]) {
      for (const catchChance of [1, 0.6]) {
        const claim = { per: 'flex', rate: 0.05, length: 0.02 } as const;
        const flexes = exposureNeeded(claim, dropouts, catchChance) as number;
        expect(perFlexUpperLimit(dropouts, flexes, catchChance)).toBeLessThanOrEqual(0.05);
        expect(perFlexUpperLimit(dropouts, flexes - 1, catchChance)).toBeGreaterThan(0.05);
        const hours = exposureNeeded({ per: 'hour', rate: 2, length: 0.02 }, dropouts, catchChance) as number;
        expect(rateUpperLimit(dropouts, hours, catchChance)).toBeCloseTo(2, 10);
      }
    }
  });
  it('a meter that can not catch such a dropout proves nothing', () => {
    expect(rateUpperLimit(0, 1e6, 0)).toBe(Infinity);
    expect(perFlexUpperLimit(0, 1e6, 0)).toBe(1);
    expect(claimStanding({ per: 'second', rate: 0.1, length: 1e-6 }, 0, 1e6, 0)).toEqual({ isMet: false, limit: null, needed: null });
  });
  it('nothing watched proves nothing', () => {
    expect(claimStanding({ per: 'hour', rate: 1, length: 0.02 }, 0, 0)).toMatchObject({ isMet: false, limit: null });
    expect(perFlexUpperLimit(0, 0)).toBe(1);
  });
  it('limits miss the true rate in at most 5 % of takes, at small and large counts and any chance of catching', () => {
    const random = new Random(20261125);
    const takes = 4000;
    for (const [rate, catchChance] of [[0.5, 1], [3, 0.4], [12, 0.9], [80, 0.25]] as const) {
      let below = 0;
      let above = 0;
      for (let i = 0; i < takes; i++) {
        const seen = poisson(random, rate * catchChance);
        if (rateUpperLimit(seen, 1, catchChance) < rate) below++;
        if (rateLowerLimit(seen, 1, catchChance) > rate) above++;
      }
      // 5 % plus three standard errors of the simulation.
      const most = 0.05 + 3 * Math.sqrt((0.05 * 0.95) / takes);
      expect(below / takes).toBeLessThan(most);
      expect(above / takes).toBeLessThan(most);
    }
  });
});

describe('before against after a repair', () => {
  it('5 dropouts in 60 s, then 60 clean seconds: p = 0.031', () => {
    const { p, needed } = compareBeforeAfter({ dropouts: 5, exposure: 60 }, { dropouts: 0, exposure: 60 });
    expect(p).toBeCloseTo(1 / 32, 12);
    expect(needed).toBe(0);
  });
  it('gives the p and the limit on the ratio that SciPy gives', () => {
    for (const [dropoutsBefore, before, dropoutsAfter, after, p, ratio] of comparisonValues) {
      const compared = compareBeforeAfter({ dropouts: dropoutsBefore, exposure: before }, { dropouts: dropoutsAfter, exposure: after });
      expect(compared.p / p).toBeCloseTo(1, 10);
      expect((compared.ratioLimit as number) / ratio).toBeCloseTo(1, 6);
    }
  });
  it('says how many more clean seconds it needs, and those are enough', () => {
    const before = { dropouts: 3, exposure: 60 };
    const { p, needed } = compareBeforeAfter(before, { dropouts: 0, exposure: 60 });
    expect(p).toBeCloseTo(1 / 8, 12);
    // (60 / (60 + e))^3 = 0.05
    expect(needed).toBeCloseTo(60 / 0.05 ** (1 / 3) - 120, 8);
    expect(compareBeforeAfter(before, { dropouts: 0, exposure: 60.001 + (needed as number) }).p).toBeLessThan(0.05);
  });
  it('without a dropout before, nothing after proves a repair', () => {
    expect(compareBeforeAfter({ dropouts: 0, exposure: 60 }, { dropouts: 0, exposure: 1e5 })).toEqual({ p: 1, ratioLimit: null, needed: null });
  });
  it('calls a useless repair good in at most 5 % of cases, also when the exposures are lopsided', () => {
    // Exact, no simulation: sum of Poisson chances of all outcomes that would be called an improvement.
    for (const [rate, before, after] of [[0.1, 60, 60], [0.02, 60, 600], [0.3, 120, 6], [1, 5, 300], [0.05, 1000, 10]] as const) {
      let wrong = 0;
      const mostBefore = Math.ceil(rate * before + 10 * Math.sqrt(rate * before) + 12);
      const mostAfter = Math.ceil(rate * after + 10 * Math.sqrt(rate * after) + 12);
      const chance = (count: number, mean: number): number => poissonCdf(count, mean) - (count === 0 ? 0 : poissonCdf(count - 1, mean));
      for (let b = 0; b <= mostBefore; b++) {
        for (let a = 0; a <= mostAfter; a++) {
          const { p } = compareBeforeAfter({ dropouts: b, exposure: before }, { dropouts: a, exposure: after });
          if (p > 0.05) break; // more dropouts after only raise p
          wrong += chance(b, rate * before) * chance(a, rate * after);
        }
      }
      expect(wrong).toBeLessThanOrEqual(0.05);
    }
  });
  it('the limit on the ratio of rates covers the truth in at least 95 % of cases', () => {
    const random = new Random(7);
    const cases = 4000;
    for (const [rateBefore, rateAfter, before, after] of [[0.2, 0.1, 60, 60], [0.1, 0.1, 30, 300], [2, 0.2, 10, 100]] as const) {
      let missed = 0;
      for (let i = 0; i < cases; i++) {
        const { ratioLimit } = compareBeforeAfter(
          { dropouts: poisson(random, rateBefore * before), exposure: before },
          { dropouts: poisson(random, rateAfter * after), exposure: after },
        );
        if (ratioLimit !== null && ratioLimit < rateAfter / rateBefore) missed++;
      }
      expect(missed / cases).toBeLessThan(0.05 + 3 * Math.sqrt((0.05 * 0.95) / cases));
    }
  });
});

describe('exposureNeeded', () => {
  it('gives up, rather than counting for ever, when a dropout of the claimed length can hardly be caught', () => {
    expect(exposureNeeded({ per: 'flex', rate: 0.05, length: 0.001 }, 0, 1e-20)).toBeNull();
    expect(exposureNeeded({ per: 'flex', rate: 0.05, length: 0.001 }, 3, 1e-300)).toBeNull();
  });
});
