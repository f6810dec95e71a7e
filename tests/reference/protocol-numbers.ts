/** Published forms of numbers in instrument answers, with where each was read. */

/**
 * SCPI-99 special numbers: infinity, its negative, not-a-number.
 * Read in: scpi-rs library, scpi/src/parser/response/mod.rs and its test '9.9E+37,-9.9E+37,9.91E+37',
 * https://github.com/Atmelfan/scpi-rs/blob/4f0d59124d2ace0403b805a65162d388a5e39404/scpi/src/parser/response/mod.rs
 */
export const SCPI_SPECIAL = { infinity: '9.9E+37', negativeInfinity: '-9.9E+37', notANumber: '9.91E+37' };

/** IEEE 488.2, 8.7.2 to 8.7.4, response forms with examples. From memory (high confidence), the standard was not read. */
export const NUMERIC_RESPONSES = {
  NR1: { pattern: /^[+-]?\d+$/, examples: ['273', '-5', '+0'] },
  NR2: { pattern: /^[+-]?\d+\.\d+$/, examples: ['0.273', '-12.34', '+00.500'] },
  NR3: { pattern: /^[+-]?\d+\.\d+E[+-]\d+$/, examples: ['2.73E+2', '-1.20000000E-03', '+9.99999999E-10'] },
};

/** SI prefixes: BIPM, The International System of Units (SI Brochure), 9th edition 2019, table 7. From memory. */
export const SI_PREFIXES: Record<string, number> = { p: -12, n: -9, u: -6, m: -3, '': 0, k: 3, M: 6, G: 9 };

/** Micro, ohm and degree signs in Unicode (U+00B5, U+03BC, U+2126, U+03A9, U+00B0), as UTF-8 bytes read as Latin-1: RFC 3629. */
export function asBytes(text: string): string {
  return Buffer.from(text, 'utf8').toString('latin1');
}
