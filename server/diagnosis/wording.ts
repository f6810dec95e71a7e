/** How numbers are said in a reason: with the unit, no more digits than the meter shows. */
import { UNITS } from '../../drivers/reading.ts';
import type { Quantity } from '../../drivers/reading.ts';

const PREFIXES: readonly (readonly [number, string])[] = [[1e6, 'M'], [1e3, 'k'], [1, ''], [1e-3, 'm'], [1e-6, 'µ']];

/**
 * "12.1 V", "0.35 ohm", "1.2 Mohm": at most four significant digits, none finer than the meter's count; without one, no zeros at the end.
 * @param value  SI; @param count  value of one count, SI, null when unknown
 */
export function sayValue(value: number, quantity: Quantity, count: number | null): string {
  const unit = UNITS[quantity];
  if (value === 0 && count === null) return `0${unit === '' ? '' : ` ${unit}`}`;
  // What is less than a count is said on the scale of the count.
  const size = Math.max(Math.abs(value), count ?? 0);
  // Volts are said in volts down to a hundredth: that is how limits are written.
  const [scale, prefix] = size === 0 || (size >= 0.01 && size < 1000) ? [1, ''] : PREFIXES.find(([s]) => size >= s * 0.9999) ?? [1e-6, 'µ'];
  const scaled = value / scale;
  const significant = Math.max(0, 3 - Math.floor(Math.log10(Math.max(Math.abs(scaled), 0.001))));
  const shown = count !== null && count > 0 ? Math.max(0, Math.ceil(-Math.log10((count / scale) * 1.0001))) : significant;
  const digits = scaled.toFixed(Math.min(6, Math.min(significant, shown)));
  // A limit is no reading: zeros at its end would claim an exactness that nobody meant.
  const text = count === null && digits.includes('.') ? digits.replace(/\.?0+$/, '') : digits;
  return `${Number(text) === 0 ? text.replace('-', '') : text}${unit === '' ? '' : ` ${prefix}${unit}`}`;
}

/** "42 s", "3.5 s", "12 ms", "7 min", "2.5 h". @param seconds  s (>= 0) */
export function sayTime(seconds: number): string {
  if (seconds < 1e-3) return `${tidy(seconds * 1e6)} µs`;
  if (seconds < 0.9995) return `${tidy(seconds * 1e3)} ms`;
  if (seconds < 119.5) return `${tidy(seconds)} s`;
  if (seconds < 7170) return `${tidy(seconds / 60)} min`;
  return `${tidy(seconds / 3600)} h`;
}

/** Three significant digits at most below ten, whole numbers above a hundred. */
export function tidy(value: number): string {
  if (value === 0) return '0';
  const size = Math.abs(value);
  if (size >= 99.5) return value.toFixed(0);
  const digits = size >= 9.95 ? 1 : Math.min(6, 1 - Math.floor(Math.log10(size)));
  return String(Number(value.toFixed(digits)));
}

/** "once", "twice", "3 times". */
export function sayTimes(count: number): string { return count === 1 ? 'once' : count === 2 ? 'twice' : `${count} times`; }

/** "1 flex", "5 flexes". */
export function sayCount(count: number, one: string, many: string): string { return `${count} ${count === 1 ? one : many}`; }
