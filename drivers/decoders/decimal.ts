/**
 * Decimal text to binary numbers without loss: the SI value of `12.34 mV` must be the double nearest to
 * 0.01234, not that of 12.34 divided by 1000 with two roundings.
 */

/** Exactly rounded powers of ten, 1e-40 to 1e40 (index = exponent + 40). */
const POWERS = Float64Array.from({ length: 81 }, (_, i) => Number(`1e${i - 40}`));

/** @returns ten to the exponent, correctly rounded; from text beyond the table */
export function powerOfTen(exponent: number): number {
  return POWERS[exponent + 40] ?? Number(`1e${exponent}`);
}

/**
 * The double nearest to digits * 10^exponent.
 *
 * A whole number up to 2^53 and a power of ten up to 10^22 are both exact doubles, so that one product or
 * quotient of them is correctly rounded (W. D. Clinger, "How to read floating point numbers accurately", 1990).
 * Outside that the language's own conversion of decimal text does it.
 * @param digits  whole number, exact: 0 <= digits <= 2^53
 */
export function scaledDecimal(digits: number, exponent: number): number {
  if (exponent === 0) return digits;
  if (exponent < 0 && exponent >= -22) return digits / powerOfTen(-exponent);
  if (exponent > 0 && exponent <= 22) return digits * powerOfTen(exponent);
  return Number(`${digits}e${exponent}`);
}
