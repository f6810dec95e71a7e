import { describe, expect, it } from 'vitest';
import {
  betaLower, betaQuantile, betaUpper, betaUpperQuantile, binomialCdf, binomialLowerLimit, binomialUpperLimit, chiSquareQuantile,
  entryThresholdZ, gammaLower, gammaQuantile, gammaUpper, gammaUpperQuantile, logGamma, normalCdf, normalQuantile, normalUpper,
  poissonCdf, poissonLowerLimit, poissonUpperLimit,
} from '../../server/diagnosis/distributions.ts';
import { betaValues, gammaValues, logGammaValues, normalQuantileValues, normalUpperValues } from '../reference/statistics-mpmath.ts';
import { clopperPearson, garwoodUpper95, gehrels } from '../reference/statistics.ts';

/** Largest relative difference over a table. */
function worst<Row extends readonly number[]>(rows: readonly Row[], got: (row: Row) => number, wanted: (row: Row) => number): number {
  return Math.max(...rows.map((row) => {
    const want = wanted(row);
    return want === 0 ? Math.abs(got(row)) : Math.abs(got(row) / want - 1);
  }));
}

describe('distribution functions against mpmath at 50 digits', () => {
  it('normalUpper(z) is exact far into the tail', () => {
    expect(worst(normalUpperValues, ([z]) => normalUpper(z), ([, p]) => p)).toBeLessThan(2e-13);
  });
  it('normalCdf(z) mirrors normalUpper(z)', () => {
    expect(worst(normalUpperValues, ([z]) => normalCdf(-z), ([, p]) => p)).toBeLessThan(2e-13);
  });
  it('normalQuantile(p) is exact from 1e-300 to 0.999', () => {
    expect(worst(normalQuantileValues, ([p]) => normalQuantile(p), ([, z]) => z)).toBeLessThan(2e-15);
  });
  it('logGamma(x) is exact, also near its zeros at 1 and 2', () => {
    expect(worst(logGammaValues, ([x]) => logGamma(x), ([, y]) => y)).toBeLessThan(5e-13);
  });
  it('gammaLower and gammaUpper are exact in both tails', () => {
    expect(worst(gammaValues, ([a, x]) => gammaLower(a, x), ([, , p]) => p)).toBeLessThan(3e-13);
    expect(worst(gammaValues, ([a, x]) => gammaUpper(a, x), ([, , , q]) => q)).toBeLessThan(3e-13);
  });
  it('betaLower and betaUpper are exact in both tails', () => {
    expect(worst(betaValues, ([a, b, x]) => betaLower(a, b, x), ([, , , p]) => p)).toBeLessThan(3e-13);
    expect(worst(betaValues, ([a, b, x]) => betaUpper(a, b, x), ([, , , , q]) => q)).toBeLessThan(3e-13);
  });
  it('quantiles come back to where the tail chance is well determined', () => {
    const lowGamma = gammaValues.filter(([, , p]) => p > 0 && p < 0.99);
    const highGamma = gammaValues.filter(([, , , q]) => q > 0 && q < 0.99);
    expect(worst(lowGamma, ([a, , p]) => gammaQuantile(a, p), ([, x]) => x)).toBeLessThan(1e-12);
    expect(worst(highGamma, ([a, , , q]) => gammaUpperQuantile(a, q), ([, x]) => x)).toBeLessThan(1e-12);
    const lowBeta = betaValues.filter(([, , , p]) => p > 0 && p < 0.99);
    const highBeta = betaValues.filter(([, , , , q]) => q > 0 && q < 0.99);
    expect(worst(lowBeta, ([a, b, , p]) => betaQuantile(a, b, p), ([, , x]) => x)).toBeLessThan(1e-12);
    expect(worst(highBeta, ([a, b, , , q]) => betaUpperQuantile(a, b, q), ([, , x]) => x)).toBeLessThan(1e-12);
  });
  it('chiSquareQuantile(freedom, p) gives the printed 5 % points 3.841, 11.070 and 18.307 for 1, 5 and 10 degrees', () => {
    // Every textbook's chi-square table; from memory.
    expect([1, 5, 10].map((freedom) => chiSquareQuantile(freedom, 0.95).toFixed(3))).toEqual(['3.841', '11.070', '18.307']);
  });
});

describe('exact limits against published tables', () => {
  it('poissonUpperLimit and poissonLowerLimit give the tables of Gehrels (1986)', () => {
    for (const { confidence, rows } of gehrels) {
      for (const [count, lower, upper] of rows) {
        expect(Math.abs(poissonUpperLimit(count, confidence) / upper - 1)).toBeLessThan(1e-3);
        expect(Math.abs(poissonLowerLimit(count, confidence) - lower)).toBeLessThan(6e-4 * Math.max(1, lower));
      }
    }
  });
  it('poissonUpperLimit(n, 0.95) gives 2.996, 4.744, ... for 0, 1, ... events', () => {
    expect(garwoodUpper95.map((_, count) => Number(poissonUpperLimit(count, 0.95).toFixed(3)))).toEqual(garwoodUpper95);
  });
  it('binomial limits give the intervals of R binom.test', () => {
    for (const [events, trials, confidence, low, high] of clopperPearson) {
      expect(binomialLowerLimit(events, trials, confidence)).toBeCloseTo(low, 6);
      expect(binomialUpperLimit(events, trials, confidence)).toBeCloseTo(high, 6);
    }
  });
  it('limits are the points at which the cumulative chance is the error allowed', () => {
    for (const count of [0, 1, 7, 60]) {
      expect(poissonCdf(count, poissonUpperLimit(count, 0.95))).toBeCloseTo(0.05, 12);
      expect(binomialCdf(count, 100, binomialUpperLimit(count, 100, 0.95))).toBeCloseTo(0.05, 12);
    }
  });
  it('poissonCdf and binomialCdf are sums of their terms', () => {
    let sum = 0;
    for (let k = 0, term = Math.exp(-3.7); k <= 12; term *= 3.7 / ++k) {
      sum += term;
      expect(poissonCdf(k, 3.7)).toBeCloseTo(sum, 14);
    }
    sum = 0;
    for (let k = 0, term = 0.7 ** 9; k <= 9; term *= ((9 - k) / (k + 1)) * (0.3 / 0.7), k++) {
      sum += term;
      expect(binomialCdf(k, 9, 0.3)).toBeCloseTo(sum, 14);
    }
  });
  it('refuses what can not be', () => {
    expect(() => poissonUpperLimit(1.5, 0.95)).toThrow(RangeError);
    expect(() => poissonUpperLimit(1, 1)).toThrow(RangeError);
    expect(() => binomialUpperLimit(3, 2, 0.95)).toThrow(RangeError);
    expect(() => normalQuantile(1.1)).toThrow(RangeError);
  });
});

describe('entryThresholdZ(interval, falseAlarmsPerHour)', () => {
  it('is about 4.7 at 2.5 readings/s, 5.8 at 1,000/s and 6.6 at 100,000/s', () => {
    expect([2.5, 1000, 100_000].map((rate) => Number(entryThresholdZ(1 / rate).toFixed(1)))).toEqual([4.7, 5.8, 6.6]);
  });
  it('spends exactly the budget on Gaussian readings, on one side or on two', () => {
    for (const sides of [1, 2] as const) {
      const z = entryThresholdZ(0.01, 0.5, sides);
      expect(sides * normalUpper(z) * 360_000).toBeCloseTo(0.5, 10);
    }
  });
});
