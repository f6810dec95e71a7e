import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type DecodedLine, TextLineDecoder, type TextLineOptions } from '../../../drivers/decoders/index.ts';
import { Flag, type Reading } from '../../../drivers/reading.ts';
import { asBytes, NUMERIC_RESPONSES, SCPI_SPECIAL, SI_PREFIXES } from '../../reference/protocol-numbers.ts';

function decode(line: string, options: TextLineOptions = {}): DecodedLine {
  return new TextLineDecoder(options).decodeLine(line);
}

function read(line: string, options: TextLineOptions = {}): Reading {
  const decoded = decode(line, options);
  if (decoded.kind !== 'reading') throw new Error(`no reading in "${line}": ${JSON.stringify(decoded)}`);
  return decoded.reading;
}

describe('decodeLine reads the response forms of IEEE 488.2', () => {
  for (const [form, { pattern, examples }] of Object.entries(NUMERIC_RESPONSES)) {
    it.each(examples)(`${form}: %s`, (text) => {
      expect(text).toMatch(pattern);
      // The language's own conversion of decimal text is correctly rounded.
      expect(read(text).value).toBe(Number(text));
      expect(read(`${text} V`)).toMatchObject({ value: Number(text), quantity: 'voltage' });
    });
  }

  it('any number of up to 15 digits and any SI prefix comes out as the nearest double, and so does its last digit', () => {
    const prefixes = Object.entries(SI_PREFIXES);
    const decoder = new TextLineDecoder();
    fc.assert(fc.property(
      fc.bigInt({ min: 0n, max: 999_999_999_999_999n }), fc.integer({ min: 0, max: 12 }), fc.constantFrom(...prefixes), fc.constantFrom('', '-', '+', '- '), fc.option(fc.integer({ min: -12, max: 12 })),
      (digits, decimals, [prefix, power], sign, exponent) => {
        const text = digits.toString().padStart(decimals + 1, '0');
        const shown = decimals === 0 ? text : `${text.slice(0, -decimals)}.${text.slice(-decimals)}`;
        const line = `${sign}${shown}${exponent === null ? '' : `E${exponent}`} ${prefix}Ohm`;
        const decoded = decoder.decodeLine(line);
        const negative = sign.startsWith('-') ? '-' : '';
        const scale = power - decimals + (exponent ?? 0);
        expect(decoded).toEqual({
          kind: 'reading',
          reading: { quantity: 'resistance', coupling: 'none', value: Number(`${negative}${digits}e${scale}`), resolution: Number(`1e${scale}`), flags: 0 },
        });
      },
    ), { numRuns: 3000 });
  });
});

describe('decodeLine knows the special numbers of SCPI-99', () => {
  const spellings = (text: string): string[] => [text, text.replace('E+', 'E'), text.replace(/(\d+\.\d+)E/, '$10000000E'), `${text},VDC`];
  it.each(spellings(SCPI_SPECIAL.infinity))('%s is over-range', (text) => {
    expect(read(text)).toMatchObject({ value: NaN, flags: Flag.overRange });
  });
  it.each(spellings(SCPI_SPECIAL.negativeInfinity))('%s is over-range with a minus', (text) => {
    expect(read(text)).toMatchObject({ value: NaN, flags: Flag.overRange | Flag.negative });
  });
  it.each(spellings(SCPI_SPECIAL.notANumber))('%s is blank, although it is larger than infinity', (text) => {
    expect(read(text)).toMatchObject({ value: NaN, flags: Flag.blank });
  });
});

describe('decodeLine reads what generic meters print', () => {
  it.each([
    // line                      quantity       coupling  value        resolution
    ['12.34 V',                  'voltage',     'none',   12.34,       0.01],
    ['12.34V',                   'voltage',     'none',   12.34,       0.01],
    ['  12.34  V  DC  ',         'voltage',     'dc',     12.34,       0.01],
    ['DC 12.34 V',               'voltage',     'dc',     12.34,       0.01],
    ['DC12.34V',                 'voltage',     'dc',     12.34,       0.01],
    ['12.34 VDC',                'voltage',     'dc',     12.34,       0.01],
    ['230.1 VAC',                'voltage',     'ac',     230.1,       0.1],
    ['AC 230.1 V',               'voltage',     'ac',     230.1,       0.1],
    ['12.34 V AC+DC',            'voltage',     'acdc',   12.34,       0.01],
    ['- 12.34 mV DC',            'voltage',     'dc',     -0.01234,    0.00001],
    ['+ 0.123 A',                'current',     'none',   0.123,       0.001],
    ['-.5V',                     'voltage',     'none',   -0.5,        0.1],
    ['12,34 V',                  'voltage',     'none',   12.34,       0.01],
    ['-0,005 A DC',              'current',     'dc',     -0.005,      0.001],
    ['MV 12.3',                  'voltage',     'none',   0.0123,      0.0001],
    ['12.3 MA',                  'current',     'none',   0.0123,      0.0001],
    ['1.234 MOHM',               'resistance',  'none',   1.234e6,     1000],
    ['6 mohm',                   'resistance',  'none',   0.006,       0.001],
    ['4.700 kOhm',               'resistance',  'none',   4700,        1],
    ['4.700k Ohm',               'resistance',  'none',   4700,        1],
    ['4.7 K OHM',                'resistance',  'none',   4700,        100],
    ['0.039 ohms',               'resistance',  'none',   0.039,       0.001],
    ['50.01 Hz',                 'frequency',   'none',   50.01,       0.01],
    ['1.5 MHZ',                  'frequency',   'none',   1.5e6,       1e5],
    ['47.00 nF',                 'capacitance', 'none',   47e-9,       1e-11],
    ['0.15 uF',                  'capacitance', 'none',   0.15e-6,     1e-8],
    ['23.4 degC',                'temperature', 'none',   23.4,        0.1],
    ['23.4 deg C',               'temperature', 'none',   23.4,        0.1],
    ['23.4 C',                   'temperature', 'none',   23.4,        0.1],
    ['45.5 %',                   'duty',        'none',   0.455,       0.001],
    ['300 nS',                   'conductance', 'none',   300e-9,      1e-9],
    ['60.5 W',                   'power',       'none',   60.5,        0.1],
    ['+1.234E+00,VDC',           'voltage',     'dc',     1.234,       0.001],
    ['+1.234E+00',               'unknown',     'none',   1.234,       0.001],
    ['V,DC,12.3',                'voltage',     'dc',     12.3,        0.1],
    ['17, 12.34 V',              'voltage',     'none',   12.34,       0.01],
    ['17;12,34;V;DC',            'voltage',     'dc',     12.34,       0.01],
    ['10:00:01,12.34,V',         'voltage',     'none',   12.34,       0.01],
    ['2026-11-25 10:00:01 5.0 V', 'voltage',    'none',   5,           0.1],
    ['CH1: 12.3 V',              'voltage',     'none',   12.3,        0.1],
    ['V1=12.3V',                 'voltage',     'none',   12.3,        0.1],
    ['5 s, 3.3 V',               'voltage',     'none',   3.3,         0.1],
    ['12.3 V 50.01 Hz',          'voltage',     'none',   12.3,        0.1],
  ] as const)('"%s": %s %s %f', (line, quantity, coupling, value, resolution) => {
    expect(read(line)).toEqual({ quantity, coupling, value, resolution, flags: 0 });
  });

  it.each([
    ['4.70 k\u00ea', 'code page 437'],
    ['4.70 k\u00d9', 'ISO 8859-7'],
    ['4.70 k\u00f4', 'character displays'],
    [asBytes('4.70 k\u03a9'), 'UTF-8, omega'],
    [asBytes('4.70 k\u2126'), 'UTF-8, ohm sign'],
  ])('reads the ohm sign of "%s" (%s)', (line) => {
    expect(read(line)).toMatchObject({ quantity: 'resistance', value: 4700, resolution: 10 });
  });
  it.each(['12.3 \u00b5A', '12.3 \u00e6A', asBytes('12.3 \u00b5A'), asBytes('12.3 \u03bcA'), '12.3 uA'])('reads the micro sign of "%s"', (line) => {
    expect(read(line)).toMatchObject({ quantity: 'current', value: 12.3e-6 });
  });
  it.each(['23.4 \u00b0C', '23.4 \u00f8C', '23.4\u00dfC', asBytes('23.4 \u00b0C'), asBytes('23.4 \u2103')])('reads the degree sign of "%s"', (line) => {
    expect(read(line)).toMatchObject({ quantity: 'temperature', value: 23.4 });
  });
  // Boiling and freezing water, and absolute zero: fixed points of the scales.
  it.each([['212 degF', 100], ['32 degF', 0], ['-40 degF', -40], ['273.15 Kelvin', 0]])('%s is %f degC', (line, celsius) => {
    expect(read(line).value).toBeCloseTo(celsius, 10);
  });

  it.each(['OL', 'O.L', '0L', '0.L', '.OL', 'OL.', 'ol', 'OVLD', 'OVER', 'Overload', 'OFL', '----', '--.--', 'OL V', 'O.L kOhm', '0LMOhm', 'OL DC V', 'DC V OL', 'OVERLOAD,V,DC'])(
    '"%s" is over-range', (line) => {
      expect(read(line)).toMatchObject({ value: NaN, flags: Flag.overRange });
    });
  it('keeps the sign and the unit of an over-range', () => {
    expect(read('-OL mV DC')).toEqual({ quantity: 'voltage', coupling: 'dc', value: NaN, resolution: NaN, flags: Flag.overRange | Flag.negative });
    expect(read('- OL A')).toMatchObject({ quantity: 'current', flags: Flag.overRange | Flag.negative });
  });

  it.each([
    ['HOLD 5.00 V', Flag.hold], ['5.00 V hold', Flag.hold], ['5.00 V MAX', Flag.maximum], ['MIN 5.00 V', Flag.minimum], ['5.00 V AVG', Flag.average],
    ['REL 5.00 V', Flag.relative], ['5.00 V AUTO', Flag.autoRange], ['5.00 V DC AUTO LOWBAT', Flag.autoRange | Flag.lowBattery], ['5.00 V LOW BATT', Flag.lowBattery],
    ['0.512 V DIODE', Flag.diode], ['CONT 5.00 Ohm', Flag.continuity],
  ])('"%s" has the flags %i', (line, flags) => {
    expect(read(line).flags).toBe(flags);
  });
});

describe('decodeLine gives no reading where the number may be damaged', () => {
  it.each([
    '1\u00912.34 V', '12#34 V', '12x34 V', '1A.34 V', '3.3V3', '12.34.5 V', '+1.234E', '+1.234E+,VDC', '12.34VX', 'x12.34 V', '12..34 V', '12\u000034 V', '12=34 V', '12"34 V',
  ])('"%s"', (line) => {
    expect(decode(line).kind).toBe('skipped');
  });
  it.each([['READY', 'no-value'], ['V DC', 'no-value'], ['12.3 dBm', 'unknown-unit'], ['4.700 k', 'unknown-unit'], ['5 s', 'unknown-unit'], ['\u0001\u0002\u00ff', 'not-text']])('"%s" is skipped as %s', (line, why) => {
    expect(decode(line)).toEqual({ kind: 'skipped', why });
  });
  it.each(['', '   ', '\r\n', '\u0000'])('nothing on the line (%j) is neither read nor counted', (line) => {
    expect(decode(line)).toEqual({ kind: 'empty' });
  });

  it('never throws, whatever the bytes', () => {
    const decoder = new TextLineDecoder();
    fc.assert(fc.property(fc.uint8Array({ maxLength: 60 }), (bytes) => {
      decoder.decodeLine(Buffer.from(bytes).toString('latin1'));
    }), { numRuns: 5000 });
  });
});

describe('the quick way through lines that differ only in their digits', () => {
  const bodies = ['12.34 V DC', '-0.005 V DC', 'DC 12.3 V', '+1.234E+00,VDC', '12,34 V', '12,3 V', '  1.5 kOhm', '1.5 k\u00ea', '17', '1.E3', '5', '5 V', 'OL V DC', '12.34 V DC AUTO', 'HOLD 1.0 V', '9.9E37', '9.91E+37', '123456789012345678 V', '1e5', '1e5 V', '17, 1.5 V', '212 degF', '4.7 k', '-1.5E-3A',
    '17,1.50,V,AUTO', '17,1,V', '10:00:01,12.34,V', '2026-11-25 10:00:01 5.0 V', 'CH1: 12.3 V', 'V1=12.3V', '12.3 V;50.01 Hz', '1,2,3', '17;12,34;V', '3.3V 0.L A', '17 0L V', '+1.2E+0,+3.4E-1', '1.5,20'];
  it('answers as a fresh decoder does, in any order of lines and with any digits', () => {
    const digit = fc.integer({ min: 0, max: 9 });
    const line = fc.tuple(fc.constantFrom(...bodies), fc.array(digit, { minLength: 20, maxLength: 20 }), fc.boolean())
      .map(([body, digits, change]) => (change ? body.replace(/\d/g, (_, at: number) => String(digits[at % 20])) : body));
    fc.assert(fc.property(fc.array(line, { maxLength: 30 }), (lines) => {
      const decoder = new TextLineDecoder();
      for (const text of lines) expect(decoder.decodeLine(text), text).toEqual(decode(text));
    }), { numRuns: 2000 });
  });
});

describe('options of the text decoder', () => {
  it('field picks one of several values', () => {
    expect(read('12.3 V, 50.01 Hz', { field: 2 })).toMatchObject({ quantity: 'frequency', value: 50.01 });
    expect(read('+1.0E+0,+2.0E+0,+3.0E+0', { field: 3 }).value).toBe(3);
    expect(decode('12.3 V', { field: 2 })).toEqual({ kind: 'skipped', why: 'no-value' });
  });
  it('decimal says what a comma is where the line does not tell', () => {
    expect(read('17,250').value).toBe(17.25);
    expect(read('17,250', { decimal: 'point' }).value).toBe(17);
    expect(read('17,250', { decimal: 'point', field: 2 }).value).toBe(250);
  });
  it('unit is that of numbers that come without one', () => {
    expect(read('12.34', { unit: 'mV DC' })).toEqual({ quantity: 'voltage', coupling: 'dc', value: 0.01234, resolution: 0.00001, flags: 0 });
    expect(read('12.34 A', { unit: 'mV DC' }).quantity).toBe('current');
  });
  it('refuses a field of 0 and a unit that nobody knows', () => {
    expect(() => new TextLineDecoder({ field: 0 })).toThrow(RangeError);
    expect(() => new TextLineDecoder({ unit: 'furlong' })).toThrow(/V, mV DC, kOhm/);
  });
});
