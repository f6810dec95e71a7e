import { describe, expect, it } from 'vitest';
import { conformanceChance, errorCdf, guardedLevelVerdict, halfWidth, measurementUncertainty } from '../../server/diagnosis/accuracy.ts';
import type { KnownUncertainty, Measured } from '../../server/diagnosis/accuracy.ts';
import { gammaUpper, logGamma, normalCdf } from '../../server/diagnosis/distributions.ts';
import {
  ballBearing, coverageFactors, ea402S9, guardBandRisk, gumH2, jcgm106, multimeterLimit, rectangularFactor, resolutionFactor,
} from '../reference/metrology.ts';
import { Random } from '../signals/random.ts';

const quiet: Measured = { value: 12.63, accuracy: { fraction: 0.005, counts: 2 }, resolution: 0.01, noise: 0.003, readings: 10 };
const normalOnly = (spread: number): KnownUncertainty => ({ kind: 'known', expanded: 1.959964 * spread, standard: spread, bound: 0, spread, parts: [] });

function known(measured: Measured): KnownUncertainty {
  const uncertainty = measurementUncertainty(measured);
  if (uncertainty.kind === 'unknown') throw new Error(`unknown: ${uncertainty.missing.join()}`);
  return uncertainty;
}
const part = (measured: Measured, source: string): number => known(measured).parts.find((p) => p.source === source)?.standard ?? 0;

describe('measurementUncertainty', () => {
  it('takes percent of reading plus counts as a bound: 0.326 V at 0.3 % + 2 counts is +/-0.002978 V', () => {
    const { value, fraction, counts, resolution, limit } = multimeterLimit;
    const measured = { value, accuracy: { fraction, counts }, resolution, noise: 0, readings: 2 };
    expect(known(measured).bound).toBeCloseTo(limit, 12);
    expect(part(measured, 'accuracy')).toBeCloseTo(limit * rectangularFactor, 12);
  });
  it('takes 0.29 counts for the resolution', () => {
    expect(part(quiet, 'resolution')).toBeCloseTo(resolutionFactor * 0.01, 4);
  });
  it('takes the noise over the root of the number of readings, as in GUM H.2', () => {
    const { volts, mean, standard } = gumH2;
    const noise = Math.sqrt(volts.reduce((sum, volt) => sum + (volt - mean) ** 2, 0) / (volts.length - 1));
    expect(part({ ...quiet, noise, readings: volts.length }, 'noise')).toBeCloseTo(standard, 12);
  });
  it('gives the U of EA-4/02 S9, whose largest part is rectangular', () => {
    const spread = Math.hypot(ea402S9.sourceStandard, ea402S9.driftBound * rectangularFactor);
    expect(Math.hypot(spread, ea402S9.bound * rectangularFactor)).toBeCloseTo(ea402S9.standard, 3);
    expect(halfWidth(ea402S9.bound, spread, 0.95)).toBeCloseTo(ea402S9.expanded, 2);
  });
  it('has the coverage factors of the rectangular and of the normal distribution at its ends', () => {
    expect(halfWidth(1, 0, 0.95) / rectangularFactor).toBeCloseTo(coverageFactors.rectangular, 5);
    expect(halfWidth(0, 1, 0.95)).toBeCloseTo(coverageFactors.normal, 5);
    // No step where the closed form hands over.
    expect(errorCdf(1, 1.0001e-4, 1)).toBeCloseTo(errorCdf(1, 0.9999e-4, 1), 9);
  });
  it('holds the error with 95 % in simulation, whichever part dominates', () => {
    const random = new Random(3);
    for (const [bound, spread] of [[1, 0.05], [1, 0.5], [1, 3]] as const) {
      const half = halfWidth(bound, spread, 0.95);
      const trials = 40_000;
      let inside = 0;
      for (let i = 0; i < trials; i++) if (Math.abs(random.between(-bound, bound) + spread * random.gauss()) <= half) inside++;
      expect(Math.abs(inside / trials - 0.95)).toBeLessThan(3.5 * Math.sqrt((0.95 * 0.05) / trials));
    }
  });
  it('is unknown, and says why, without an accuracy, a resolution, a noise or a second reading', () => {
    expect(measurementUncertainty({ ...quiet, accuracy: null })).toEqual({ kind: 'unknown', missing: ['accuracy'] });
    expect(measurementUncertainty({ ...quiet, noise: null, readings: 1 })).toEqual({ kind: 'unknown', missing: ['noise', 'second reading'] });
    expect(() => measurementUncertainty({ ...quiet, value: Number.NaN })).toThrow(RangeError);
    expect(() => measurementUncertainty({ ...quiet, noise: -1 })).toThrow(RangeError);
  });
  it('scales with the unit', () => {
    const inMillivolts = { ...quiet, value: 12_630, resolution: 10, noise: 3 };
    expect(known(inMillivolts).expanded / known(quiet).expanded).toBeCloseTo(1000, 9);
  });
});

describe('conformanceChance', () => {
  it('gives the examples of JCGM 106 clause 7', () => {
    for (const { low, high, value, standard, chance } of jcgm106) {
      expect(conformanceChance(value, normalOnly(standard), { low, high })).toBeCloseTo(chance, 2);
    }
  });
  it('gives the ball-bearing risk of JCGM 106, 9.5.4, when it is averaged over that prior', () => {
    const { limit, shape, scale, standard, nonconforming, falseAccept, guardBand, guardedFalseAccept } = ballBearing;
    expect(gammaUpper(shape, limit / scale)).toBeCloseTo(nonconforming, 12);
    const density = (x: number): number => Math.exp((shape - 1) * Math.log(x / scale) - x / scale - logGamma(shape)) / scale;
    const risk = (acceptance: number): number => {
      let sum = 0;
      const step = 1e-3;
      for (let x = limit + step / 2; x < 8; x += step) sum += density(x) * normalCdf((acceptance - x) / standard) * step;
      return sum;
    };
    expect(risk(limit)).toBeCloseTo(falseAccept, 6);
    expect(risk(limit - guardBand)).toBeCloseTo(guardedFalseAccept, 6);
  });
});

describe('guardedLevelVerdict', () => {
  const limits = { low: 12, high: 13 };
  it('passes inside the limits by U, fails outside by U, and is undecided between', () => {
    const verdictAt = (value: number): string => guardedLevelVerdict({ ...quiet, value }, limits).verdict;
    const guard = known({ ...quiet, value: 12 }).expanded;
    expect(verdictAt(12 + 1.02 * guard)).toBe('pass');
    expect(verdictAt(12 + 0.98 * guard)).toBe('undecided');
    expect(verdictAt(12 - 0.98 * guard)).toBe('undecided');
    expect(verdictAt(12 - 1.02 * guard)).toBe('fail');
    expect(verdictAt(13.2)).toBe('fail');
  });
  it('a pass or fail is wrong with a chance below 2.5 % at each limit, stated with it', () => {
    for (let value = 11.8; value < 13.2; value += 0.003) {
      const { verdict, wrongChance } = guardedLevelVerdict({ ...quiet, value }, limits);
      if (verdict === 'undecided') expect(wrongChance).toBeNull();
      else expect(wrongChance).toBeLessThan(guardBandRisk + 1e-9);
    }
  });
  it('calls a true value at the limit good in at most 2.5 % of measurements, over limits anywhere between two counts', () => {
    const random = new Random(11);
    const trials = 20_000;
    for (const [noise, fraction] of [[0.0005, 0.005], [0.05, 0.001]] as const) {
      let passed = 0;
      for (let i = 0; i < trials; i++) {
        const error = random.between(-1, 1) * (fraction * 12 + 0.02);
        const low = 12 + 0.01 * random.uniform();
        const shown = Math.round((low + error + (noise / Math.sqrt(10)) * random.gauss()) / 0.01) * 0.01;
        if (guardedLevelVerdict({ ...quiet, value: shown, noise, accuracy: { fraction, counts: 2 } }, { low, high: null }).verdict === 'pass') passed++;
      }
      expect(passed / trials).toBeLessThan(guardBandRisk + 3 * Math.sqrt((guardBandRisk * (1 - guardBandRisk)) / trials));
    }
  });
  it('says what would decide it', () => {
    // 0.2 ohm of unnulled leads on a 0.4 ohm path with a limit of 0.5 ohm.
    const ohms: Measured = { value: 0.4, accuracy: { fraction: 0.005, counts: 2 }, resolution: 0.01, noise: 0.003, readings: 10, leadBound: 0.2 };
    expect(guardedLevelVerdict(ohms, { low: null, high: 0.5 }).remedies).toContain('null the leads');
    expect(guardedLevelVerdict({ ...ohms, leadBound: 0, resolution: 0.1 }, { low: null, high: 0.5 }).remedies).toEqual(['a finer range', 'a better meter']);
    expect(guardedLevelVerdict({ ...ohms, leadBound: 0, noise: 0.2, readings: 4 }, { low: null, high: 0.5 }).remedies).toEqual(['more quiet readings']);
    // Neither the leads nor the counts alone: what both leave, 0.5 % and two counts of 0.01 ohm, is less than the 0.1 ohm to the limit.
    expect(guardedLevelVerdict({ ...ohms, resolution: 0.1 }, { low: null, high: 0.5 })).toMatchObject({ remedies: [], together: ['null the leads', 'a finer range'], betterBy: null });
    expect(guardedLevelVerdict({ ...ohms, value: 0.5 }, { low: null, high: 0.5 })).toMatchObject({ remedies: [], together: [] });
  });
  it('is undecided without a limit and without an accuracy', () => {
    expect(guardedLevelVerdict(quiet, { low: null, high: null })).toMatchObject({ verdict: 'undecided', margin: null });
    expect(guardedLevelVerdict({ ...quiet, accuracy: null }, limits)).toMatchObject({ verdict: 'undecided', conformance: null });
    expect(() => guardedLevelVerdict(quiet, { low: 2, high: 1 })).toThrow(RangeError);
  });
});
