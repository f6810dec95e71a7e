import { describe, expect, it } from 'vitest';
import type { Dropout } from '../../server/diagnosis/judgement.ts';
import { sayMarkAssociation } from '../../server/diagnosis/road-words.ts';
import { roadReport } from '../../server/session/road-report.ts';
import type { MarkRecord } from '../../server/session/session.ts';
import { Random } from '../signals/index.ts';

const dropout = (start: number): Dropout => ({
  start, end: start + 0.1, count: 1, depth: -12, overRange: false, duration: { estimate: null, low: null, high: null },
});
const mark = (at: number, text: string, id = 1): MarkRecord => ({ id, take: 1, at, text });
const take = { start: 0, end: 3600 };
const report = (starts: readonly number[], marks: readonly MarkRecord[] = [], gaps: { start: number; end: number }[] = []) =>
  roadReport(take, { dropouts: starts.map(dropout), gaps }, marks, null);

describe('roadReport(take, judgement, marks, motion)', () => {
  it('finds the kind of mark that dropouts go with, and not the other', () => {
    const bumps = Array.from({ length: 12 }, (_, k) => 100 + 290 * k);
    const marks = [...bumps.map((at) => mark(at, 'bump')), ...bumps.map((at) => mark(at + 140, 'left turn'))].sort((a, b) => a.at - b.at);
    const { byMark, words } = report(bumps.map((at) => at - 1), marks);
    const of = (text: string) => byMark.find((one) => one.text === text)!;
    expect(of('bump').near).toBe(12);
    expect(of('bump').correctedP!).toBeLessThan(0.001);
    expect(of('left turn').near).toBe(0);
    // Each kind of mark is said once, beside the rest.
    expect(words.join(' ')).not.toMatch(/bump|left turn/);
    expect(byMark.map(sayMarkAssociation).filter((sentence) => sentence.includes('they go together'))).toEqual([expect.stringContaining('"bump"')]);
  });

  it('leaves out what is not a note: zones, provocations, conditions', () => {
    expect(report([100], [{ ...mark(99, 'hinge'), kind: 'zone' }]).byMark).toEqual([]);
  });

  it('says that dropouts come with warmth, counted over the watched time only', () => {
    const late = Array.from({ length: 10 }, (_, k) => 3000 + 60 * k);
    const warm = report(late).sinceStart;
    expect(warm.middle!).toBeGreaterThan(0.85);
    expect(warm.p!).toBeLessThan(0.01);
    expect(report(late).words.join(' ')).toMatch(/more towards the end/);
    // Were only the last ten minutes watched, the same dropouts are spread evenly.
    const blind = report(late, [], [{ start: 0, end: 2970 }]).sinceStart;
    expect(blind.p!).toBeGreaterThan(0.2);
    expect(blind.stretches[0]).toMatchObject({ watched: 0, rate: null });
  });

  it('rates of the stretches carry exact limits: no dropout in 600 s, at 1 - 0.025 / 6', () => {
    // Poisson upper limit for no events: -ln(0.025 / 6) = 5.4806; over 1/6 h.
    expect(report([]).sinceStart.stretches.map(({ dropouts }) => dropouts)).toEqual([0, 0, 0, 0, 0, 0]);
    expect(report([]).sinceStart.stretches[0]!.rate!.high).toBeCloseTo(-Math.log(0.025 / 6) * 6, 6);
    expect(report([]).words).toEqual(['No dropout in 60 min watched.']);
  });

  it('withholds what fewer than five separate dropouts can not tell', () => {
    expect(report([100, 200, 300, 400]).sinceStart.p).toBeNull();
    expect(report([100, 101, 102, 103, 104, 105]).sinceStart.p).toBeNull();
    expect(report([100]).words.join(' ')).toMatch(/drive on for more/);
  });

  it.each([[6], [40]])('cries "drift" at the 5 %% level in about 5 %% of steady roads of %d dropouts', (n) => {
    const random = new Random(20261125 + n);
    let cries = 0;
    const roads = 2000;
    for (let k = 0; k < roads; k++) {
      const starts = Array.from({ length: n }, () => 3600 * random.uniform()).sort((a, b) => a - b);
      const { p } = report(starts).sinceStart;
      if (p !== null && p <= 0.05) cries++;
    }
    // 5 % of 2,000 with a standard deviation of 9.7; clusters of dropouts join some, so that it may be a little less.
    expect(cries).toBeLessThan(100 + 4 * 9.7);
    expect(cries).toBeGreaterThan(100 - 5 * 9.7);
  });
});
