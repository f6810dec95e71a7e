import { describe, expect, it } from 'vitest';
import { Flag } from '../../drivers/reading.ts';
import { Plausibility } from '../../server/session/plausibility.ts';
import type { Check } from '../../server/session/session.ts';
import { columnsOf, Random } from '../signals/index.ts';
import { quiet } from '../diagnosis/setup.ts';

const check = (changes: Partial<Check> = {}): Check => ({
  id: 'x', kind: 'supply', red: 'CL+', black: 'B-', limits: { low: 11, high: null }, limitsBasis: '', condition: '', instructions: [], cautions: [], ...changes,
});
const continuity = check({ kind: 'continuity', limits: { low: null, high: 1 } });

function warningsOf(own: Check, samples: ReturnType<typeof columnsOf>, flags = 0): string[] {
  samples.flags.forEach((_, i) => { samples.flags[i] = samples.flags[i]! | flags; });
  const watch = new Plausibility(own);
  watch.push(samples);
  return watch.now().map(({ code }) => code);
}

describe('what is odd about the readings', () => {
  const volts = columnsOf(quiet(12, 30), 0.1);
  it('is nothing when the meter shows what the check asks for', () => {
    expect(warningsOf(check(), volts)).toEqual([]);
    expect(warningsOf(continuity, columnsOf(quiet(0.4, 30, 1, 0.1, 0.1), 0.1, { quantity: 'resistance', coupling: 'none', resolution: 0.1 }))).toEqual([]);
  });

  it.each([
    ['ohms at a check in volts', check(), columnsOf(quiet(12, 30), 0.1, { quantity: 'resistance', coupling: 'none' }), 0, 'WRONG_FUNCTION'],
    ['volts at a check in ohms', continuity, columnsOf(quiet(0.4, 30), 0.1), 0, 'WRONG_FUNCTION'],
    ['AC for DC', check(), columnsOf(quiet(0.01, 30), 0.1, { coupling: 'ac' }), 0, 'AC_FOR_DC'],
    ['diode test', check(), columnsOf(quiet(12, 30), 0.1), Flag.diode, 'DIODE_TEST'],
    ['a maximum', check(), columnsOf(quiet(12, 30), 0.1), Flag.maximum, 'NOT_LIVE_VALUE'],
    ['relative volts', check(), columnsOf(quiet(12, 30), 0.1), Flag.relative, 'RELATIVE'],
    ['hold', check(), columnsOf(quiet(12, 30), 0.1), Flag.hold, 'HOLD'],
    ['a low battery', check(), columnsOf(quiet(12, 30), 0.1), Flag.lowBattery, 'LOW_BATTERY'],
    ['volts beyond the range', check(), columnsOf(new Array(30).fill('OL'), 0.1), 0, 'BEYOND_RANGE'],
    ['a display too coarse for the limit', check({ kind: 'ground', limits: { low: null, high: 0.1 } }), columnsOf(quiet(0.1, 30, 1, 0, 0.1), 0.1, { resolution: 0.1 }), 0, 'RANGE_TOO_COARSE'],
    ['less than zero ohms', continuity, columnsOf(quiet(-8, 30, 1, 0.1, 0.1), 0.1, { quantity: 'resistance', coupling: 'none', resolution: 0.1 }), 0, 'LIVE_CIRCUIT'],
    ['a supply below zero', check(), columnsOf(quiet(-12, 30), 0.1), 0, 'LEADS_REVERSED'],
    ['more than 60 V', check(), columnsOf(quiet(61, 30), 0.1), 0, 'HIGH_VOLTAGE'],
  ])('is said of %s', (_what, own, samples, flags, code) => {
    expect(warningsOf(own, samples, flags)).toContain(code);
  });

  it('relative ohms are nulled leads, and right', () => {
    expect(warningsOf(continuity, columnsOf(quiet(0.4, 30, 1, 0.1, 0.1), 0.1, { quantity: 'resistance', coupling: 'none', resolution: 0.1 }), Flag.relative)).toEqual([]);
  });

  it('ohms that jump with the ripple of a live circuit are warned of, an intermittent in ohms is not', () => {
    const random = new Random(5);
    const ohms = { quantity: 'resistance', coupling: 'none', resolution: 0.1 } as const;
    const live = Array.from({ length: 40 }, () => Math.round(200 * (1 + 0.3 * random.gauss())) / 10);
    const intermittent = quiet(2, 40, 3, 0.1, 0.1).map((value, i) => (i % 8 < 2 ? 300 : value));
    expect(warningsOf(continuity, columnsOf(live, 0.1, ohms))).toContain('LIVE_CIRCUIT');
    expect(warningsOf(continuity, columnsOf(intermittent, 0.1, ohms))).toEqual([]);
  });

  it('a ground offset of some millivolts below zero is no reversed lead', () => {
    expect(warningsOf(check({ kind: 'ground', limits: { low: null, high: 0.5 } }), columnsOf(quiet(-0.01, 30, 1, 0.001, 0.001), 0.1, { resolution: 0.001 }))).toEqual([]);
  });

  it('passes when the dial is turned right, and stays with the take when most of it was wrong', () => {
    const watch = new Plausibility(check());
    watch.push(columnsOf(quiet(12, 60), 0.1, { coupling: 'ac' }));
    watch.push(columnsOf(quiet(12, 40), 0.1, { start: 6 }));
    expect(watch.now()).toEqual([]);
    expect(watch.instead(12).map(({ code }) => code)).toEqual(['AC_FOR_DC']);
    watch.push(columnsOf(quiet(12, 40), 0.1, { start: 10 }));
    expect(watch.instead(12)).toEqual([]);
    expect(watch.partly(null).map(({ code }) => code)).toEqual(['AC_FOR_DC']);
    expect(watch.partly(null)[0]!.message).toMatch(/on AC for 5\.9 s/);
    expect(watch.partly({ start: 7, end: 13 })).toEqual([]);
  });
});
