import { describe, expect, it } from 'vitest';
import { accuracyAt } from '../../server/diagnosis/range-accuracy.ts';
import type { ShownValue, StatedAccuracy } from '../../server/diagnosis/range-accuracy.ts';
import { judgeShown, quiet } from './setup.ts';

/** A table as manuals print it, 6000 counts (invented figures). */
const STATED: StatedAccuracy = {
  accuracy: null, displayCounts: 6000,
  ranges: [
    { quantity: 'voltage', coupling: 'dc', upTo: 6, fraction: 0.005, counts: 2 },
    { quantity: 'voltage', coupling: 'dc', upTo: 60, fraction: 0.006, counts: 2 },
    { quantity: 'voltage', coupling: 'dc', upTo: 600, fraction: 0.007, counts: 3 },
    { quantity: 'voltage', coupling: 'dc', upTo: 1000, fraction: 0.008, counts: 4 },
    { quantity: 'voltage', coupling: 'ac', upTo: null, fraction: 0.012, counts: 5 },
    { quantity: 'resistance', coupling: null, upTo: 600, fraction: 0.01, counts: 3 },
  ],
};
const volts = (value: number, count: number | null, coupling: ShownValue['coupling'] = 'dc'): ShownValue => ({ quantity: 'voltage', coupling, value, count });

describe('accuracyAt(stated, shown)', () => {
  it('goes by the range that one count tells, not by the smallest range that could hold the value', () => {
    expect(accuracyAt(STATED, volts(5.5, 0.001))).toEqual({ fraction: 0.005, counts: 2 });
    expect(accuracyAt(STATED, volts(5.5, 0.01))).toEqual({ fraction: 0.006, counts: 2 });
    expect(accuracyAt(STATED, volts(-5.5, 0.1))).toEqual({ fraction: 0.007, counts: 3 });
    expect(accuracyAt(STATED, volts(700, 1))).toEqual({ fraction: 0.008, counts: 4 });
    expect(accuracyAt(STATED, volts(6.1, 0.001))).toEqual({ fraction: 0.005, counts: 2 });
  });
  it('knows 2 V of a display of 1999 for the range with one count of 1 mV', () => {
    const small: StatedAccuracy = { ...STATED, displayCounts: 1999, ranges: [2, 20].map((upTo) => ({ quantity: 'voltage' as const, coupling: null, upTo, fraction: upTo / 1000, counts: 1 })) };
    expect(accuracyAt(small, volts(1.5, 0.001))?.fraction).toBe(0.002);
    expect(accuracyAt(small, volts(1.5, 0.01))?.fraction).toBe(0.02);
  });
  it('takes the least accurate range that may have shown the value when the counts of the display are not known', () => {
    expect(accuracyAt({ ...STATED, displayCounts: null }, volts(5.5, 0.001))).toEqual({ fraction: 0.008, counts: 4 });
    expect(accuracyAt({ ...STATED, displayCounts: null }, volts(5.5, null))).toEqual({ fraction: 0.008, counts: 4 });
  });
  it('tells coupling and function apart, and takes volts without a coupling for DC', () => {
    expect(accuracyAt(STATED, volts(5.5, 0.001, 'ac'))).toEqual({ fraction: 0.012, counts: 5 });
    expect(accuracyAt(STATED, volts(5.5, 0.001, 'none'))).toEqual({ fraction: 0.005, counts: 2 });
    expect(accuracyAt(STATED, { quantity: 'resistance', coupling: 'none', value: 12, count: 0.1 })).toEqual({ fraction: 0.01, counts: 3 });
  });
  it('falls back to what holds everywhere, or to nothing', () => {
    const far: ShownValue = { quantity: 'resistance', coupling: 'none', value: 5000, count: 1 };
    expect(accuracyAt(STATED, far)).toBeNull();
    expect(accuracyAt({ ...STATED, accuracy: { fraction: 0.02, counts: 5 } }, far)).toEqual({ fraction: 0.02, counts: 5 });
    expect(accuracyAt({ accuracy: { fraction: 0.02, counts: 5 } }, volts(1, 0.001))).toEqual({ fraction: 0.02, counts: 5 });
  });
});

describe('a verdict', () => {
  const limits = { low: 12, high: 15 };
  const stated = { accuracy: null, ranges: STATED.ranges ?? [], displayCounts: 6000 };
  it('uses the accuracy of the range in use: the same 12.2 V passes on the range of 60 V and is undecided on that of 600 V', () => {
    // +/-(0.6 % of 12.2 V + 2 x 10 mV) is 93 mV, +/-(0.7 % + 3 x 100 mV) is 385 mV; 95 % of a rectangle is 0.95 of it.
    const fine = judgeShown(quiet(12.2, 700), { ...stated, limits });
    expect(fine).toMatchObject({ verdict: 'pass', doubt: { remedies: [] } });
    expect(fine.doubt?.uncertainty).toBeCloseTo(0.95 * 0.0932, 2);
    const coarse = judgeShown(quiet(12.2, 700, 1, 0.1, 0.1), { ...stated, limits }, 0.1, { resolution: 0.1 });
    expect(coarse.levelVerdict).toBe('undecided');
    expect(coarse.doubt?.uncertainty).toBeCloseTo(0.95 * 0.385, 1);
    expect(coarse.doubt?.insideChance).toBeGreaterThan(0.5);
    expect(coarse.doubt?.remedies).toContain('a finer range');
    expect(coarse.reasons[0]).toMatch(/inside with a chance of 7\d %\. What would decide it: a finer range/);
  });
  it('says how much better a meter would have to be, and how sure a pass is', () => {
    const rough = judgeShown(quiet(12.2, 700), { accuracy: { fraction: 0.03, counts: 2 }, limits });
    expect(rough.reasons[0]).toMatch(/a meter 2 times as accurate\./);
    expect(judgeShown(quiet(13.5, 700), { accuracy: { fraction: 0.005, counts: 2 }, limits }).reasons[0]).toContain('the chance that this is wrong is below 0.1 %');
  });
  it('allows for leads that nobody nulled: they only add', () => {
    const ohms = { quantity: 'resistance', coupling: 'none', resolution: 0.01 } as const;
    const judge = (shown: number, leadOhms: number | null) => judgeShown(quiet(shown, 700), { kind: 'continuity', limits: { low: null, high: 1 }, leadOhms }, 0.1, ohms);
    expect(judge(0.9, null).levelVerdict).toBe('pass');
    expect(judge(1.2, null)).toMatchObject({ levelVerdict: 'undecided', doubt: { remedies: ['null the leads'] } });
    expect(judge(1.2, 0.05).levelVerdict).toBe('fail');
    expect(judge(1.2, 0.4).levelVerdict).toBe('pass');
    expect(judge(1.7, null).levelVerdict).toBe('fail');
  });
  it('names the steps that would decide it together, where none would alone', () => {
    // Up to 0.5 ohm of leads, and two counts of 0.1 ohm, at 0.1 ohm beyond the limit.
    const { reasons, doubt } = judgeShown(quiet(1.1, 700, 1, 0.01, 0.1), { kind: 'continuity', limits: { low: null, high: 1 } }, 0.1, { quantity: 'resistance', coupling: 'none', resolution: 0.1 });
    expect(doubt?.remedies).toEqual(['null the leads and a finer range together']);
    expect(reasons[0]).toMatch(/What would decide it: null the leads and a finer range together\.$/);
  });
});
