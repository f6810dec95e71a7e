import { describe, expect, it } from 'vitest';
import { sayTime, sayTimes, sayValue } from '../../server/diagnosis/index.ts';

describe('numbers in a reason', () => {
  it.each([
    [12.1, 'voltage', 0.01, '12.10 V'], [0.00007, 'voltage', 0.01, '0.00 V'], [-0.004, 'voltage', 0.01, '0.00 V'], [0.0352, 'voltage', 0.0001, '0.0352 V'],
    [0, 'voltage', null, '0 V'], [1.25e6, 'resistance', null, '1.25 Mohm'], [4705, 'resistance', 10, '4.71 kohm'], [0.35, 'resistance', 0.01, '0.35 ohm'],
    [0.00012, 'current', null, '120 µA'],
  ] as const)('%s %s in counts of %s reads %s', (value, quantity, count, text) => {
    expect(sayValue(value, quantity, count)).toBe(text);
  });

  it.each([[0.0000005, '0.5 µs'], [0.0123, '12.3 ms'], [42, '42 s'], [360, '6 min'], [9000, '2.5 h']] as const)('%s s reads %s', (seconds, text) => {
    expect(sayTime(seconds)).toBe(text);
  });

  it('counts as people do', () => {
    expect([1, 2, 3].map(sayTimes)).toEqual(['once', 'twice', '3 times']);
  });
});
