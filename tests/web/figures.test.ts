import { describe, expect, it } from 'vitest';
import { depthText, displayPower, limitText, readingFigures, readingText, roundText } from '../../web/figures/reading-text.ts';
import { clockText, dropoutLengthText, durationRangeText, durationText } from '../../web/figures/time-text.ts';

// Prefixes and their powers of ten: SI Brochure, 9th edition (BIPM 2019), table 7. From memory, high confidence.
const PREFIXES: readonly (readonly [power: number, sign: string])[] = [[-12, 'p'], [-9, 'n'], [-6, 'µ'], [-3, 'm'], [0, ''], [3, 'k'], [6, 'M'], [9, 'G']];

describe('readingFigures(quantity, value, resolution)', () => {
  it('shows as many digits as the meter gave', () => {
    expect(readingText('voltage', 12.4712, 0.01)).toBe('12.47 V');
    expect(readingText('voltage', 12.4712, 0.001)).toBe('12.471 V');
    expect(readingText('voltage', -0.2, 0.001)).toBe('−0.200 V');
    expect(readingText('resistance', 0.39, 0.01)).toBe('0.39 Ω');
    expect(readingText('resistance', 4700, 1)).toBe('4.700 kΩ');
    expect(readingText('resistance', 2.2e6, 1000)).toBe('2.200 MΩ');
    expect(readingText('temperature', 21.5, 0.1)).toBe('21.5 °C');
    expect(readingText('duty', 0.5, 0.001)).toBe('50.0 %');
  });

  it('keeps the unit while a voltage drops out on one range', () => {
    const powers = [12.5, 1.2, 0.01, 0].map((value) => displayPower('voltage', value, 0.001));
    expect(powers).toEqual([0, 0, 0, 0]);
  });

  it('goes to millivolts with the range of the meter', () => {
    expect(readingFigures('voltage', 0.03412, 0.00001)).toEqual({ digits: '34.12', unit: 'mV' });
  });

  it('writes every power with the prefix of the SI', () => {
    for (const [power, sign] of PREFIXES) {
      const value = 4.7 * 10 ** power;
      expect(readingText('capacitance', value, value / 1000)).toBe(`4.70${power === 0 ? '0' : '0'} ${sign}F`);
    }
  });

  it('shows no sign on zero, and a dash for what is not known', () => {
    expect(readingText('voltage', -0.0001, 0.001)).toBe('0.000 V');
    expect(readingText('voltage', null, 0.001)).toBe('–');
    expect(readingText('unknown', 3, 1)).toBe('3');
  });
});

describe('roundText(quantity, value)', () => {
  it('drops what says nothing', () => {
    expect(roundText('voltage', 0.5)).toBe('0.5 V');
    expect(roundText('voltage', 12)).toBe('12 V');
    expect(roundText('voltage', 0.05)).toBe('50 mV');
    expect(roundText('resistance', 1e6)).toBe('1 MΩ');
    expect(roundText('resistance', 0)).toBe('0 Ω');
    expect([0.042, 0.0042, 0.0000714].map((ohms) => roundText('resistance', ohms))).toEqual(['0.042 Ω', '4.2 mΩ', '71.4 µΩ']);
  });
});

it('a limit is shown as it was given, a depth to four digits', () => {
  expect([limitText('voltage', 11.95), limitText('voltage', 12.445), limitText('voltage', 12), limitText('resistance', 1e6), limitText('voltage', 0.0375)]).toEqual(['11.95 V', '12.445 V', '12 V', '1 MΩ', '37.5 mV']);
  expect([depthText('voltage', 12.2915, 0.0001), depthText('voltage', -0.5, 0.01), depthText('voltage', null, 0.01)]).toEqual(['12.29 V', '−0.50 V', '–']);
});

describe('durationText(seconds)', () => {
  it('picks a unit that a person reads at a glance', () => {
    const shown = [0.0004, 0.0451, 0.99, 1.23, 12.4, 60, 185, 3600, 7830].map(durationText);
    expect(shown).toEqual(['400 µs', '45 ms', '990 ms', '1.2 s', '12 s', '1 min', '3 min 5 s', '1 h', '2 h 11 min']);
  });

  it('never carries a rounding into a unit that is too small', () => {
    expect(durationText(0.99996)).toBe('1 s');
    expect(durationText(59.7)).toBe('1 min');
    expect(durationText(3599.8)).toBe('1 h');
  });

  it('names the ends of a range that are known', () => {
    const words = { atLeast: 'at least', atMost: 'at most', to: 'to' };
    expect(durationRangeText(0.02, 0.06, words)).toBe('20 to 60 ms');
    expect(durationRangeText(0.5, 2, words)).toBe('500 ms to 2 s');
    expect(durationRangeText(0.02, null, words)).toBe('at least 20 ms');
    expect(durationRangeText(null, 0.06, words)).toBe('at most 60 ms');
    expect(durationRangeText(null, null, words)).toBe('–');
    const length = (low: number | null, high: number | null, count: number) => dropoutLengthText({ duration: { estimate: null, low, high }, count });
    expect(length(0.02, 0.06, 1)).toBe('20 to 60 ms');
    expect(length(0.02, 0.06, 3)).toBe('20 to 60 ms in all');
    expect(length(null, null, 3)).toBe('–');
  });
});

describe('clockText(seconds, decimals)', () => {
  it('reads as a clock', () => {
    expect([clockText(0), clockText(65), clockText(3725), clockText(65.251, 2), clockText(-5)]).toEqual(['0:00', '1:05', '1:02:05', '1:05.25', '−0:05']);
  });

  it('carries a rounding through', () => {
    expect(clockText(59.999, 2)).toBe('1:00.00');
  });
});
