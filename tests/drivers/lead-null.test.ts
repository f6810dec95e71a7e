import { describe, expect, it } from 'vitest';
import { nullLeads, type Reading } from '../../drivers/index.ts';

function ohms(value: number): Reading {
  return { quantity: 'resistance', coupling: 'none', value, resolution: 0.01, flags: 0 };
}

describe('nullLeads(readings)', () => {
  it('is the middle of eight readings that agree', () => {
    expect(nullLeads([0.31, 0.3, 0.3, 0.31, 0.32, 0.3, 0.31, 0.31].map(ohms))).toEqual({ kind: 'nulled', leadOhms: expect.closeTo(0.31, 9) });
  });
  it.each([
    ['too few', [0.3, 0.3].map(ohms), '8 readings'],
    ['tips apart', [...Array(7).fill(0.3), NaN].map(ohms), 'came apart'],
    ['not steady', [0.3, 0.3, 0.9, 0.3, 0.4, 0.3, 0.3, 0.5].map(ohms), 'not steady'],
    ['broken leads', Array(8).fill(7.2).map(ohms), 'too much for leads'],
    ['volts', Array(8).fill({ ...ohms(0), quantity: 'voltage' }), 'to ohms first'],
  ])('is refused with %s', (_, readings, why) => {
    expect(nullLeads(readings as Reading[])).toEqual({ kind: 'refused', why: expect.stringContaining(why) });
  });
});
