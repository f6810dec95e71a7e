import { describe, expect, it } from 'vitest';
import { sayLimit, sayShare, sayTime, sayTimes, sayValue } from '../../server/diagnosis/index.ts';
import { sayBeside, tidy, tidyBeside, tidyDown, tidyUp } from '../../server/diagnosis/wording.ts';

describe('numbers in a reason', () => {
  it.each([
    [12.1, 'voltage', 0.01, '12.10 V'], [0.00007, 'voltage', 0.01, '0.00 V'], [-0.004, 'voltage', 0.01, '0.00 V'], [0.0352, 'voltage', 0.0001, '0.0352 V'],
    [0, 'voltage', null, '0 V'], [1.25e6, 'resistance', null, '1.25 Mohm'], [4705, 'resistance', 10, '4.71 kohm'], [0.35, 'resistance', 0.01, '0.35 ohm'],
    [0.00012, 'current', null, '120 µA'],
  ] as const)('%s %s in counts of %s reads %s', (value, quantity, count, text) => {
    expect(sayValue(value, quantity, count)).toBe(text);
  });

  it.each([[0, '0 s'], [0.0000005, '0.5 µs'], [0.0123, '12.3 ms'], [42, '42 s'], [360, '6 min'], [9000, '2.5 h']] as const)('%s s reads %s', (seconds, text) => {
    expect(sayTime(seconds)).toBe(text);
  });

  it('a limit is said as it was given', () => {
    expect([sayLimit(11.995, 'voltage'), sayLimit(12, 'voltage'), sayLimit(0.061, 'resistance')]).toEqual(['11.995 V', '12 V', '0.061 ohm']);
  });

  it('a value that is not its limit does not read like it, down to a tenth of a count', () => {
    expect(sayBeside(0.5, 0.504, 'voltage', 0.01)).toBe('0.504 V');
    expect(sayBeside(12.345, 12.3461, 'voltage', 0.0001)).toBe('12.3461 V');
    expect(sayBeside(0.5, 0.2183, 'voltage', 0.0001)).toBe('0.2183 V');
    expect(sayBeside(0.5, 0.5, 'voltage', 0.01)).toBe('0.50 V');
  });

  it('what is at most so much is rounded up, at least so much down, and round numbers stay', () => {
    // 58 clean flexes prove at most 5.03 % per flex (1 - 0.05^(1/58)): not the 5 % that 59 prove.
    expect([tidy(100 * (1 - 0.05 ** (1 / 58))), tidyUp(100 * (1 - 0.05 ** (1 / 58))), tidyUp(100 * (1 - 0.05 ** (1 / 59)))]).toEqual(['5', '5.1', '5']);
    expect([tidyUp(0), tidyUp(0.3), tidyUp(331.2), tidyDown(331.8), tidyDown(9.99), tidyUp(0.1 + 0.2)]).toEqual(['0', '0.3', '332', '331', '9.9', '0.3']);
  });

  it('a chance that is not its bound does not read like it', () => {
    expect([tidyBeside(0.05, 0.0504), tidyBeside(0.05, 0.04996), tidyBeside(0.05, 0.05), tidyBeside(0.05, 0.31)]).toEqual(['0.0504', '0.04996', '0.05', '0.31']);
  });

  it('a small share is not none, and one below the mark is not rounded up to it', () => {
    expect([0, 0.004, 0.41, 0.9496, 0.998].map((share) => sayShare(share, 0.95))).toEqual(['0 %', 'under 1 %', '41 %', '94.96 %', 'over 99 %']);
  });

  it('counts as people do', () => {
    expect([1, 2, 3].map(sayTimes)).toEqual(['once', 'twice', '3 times']);
  });
});
