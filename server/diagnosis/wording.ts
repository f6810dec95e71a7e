/** How numbers are said in a reason: with the unit, no more digits than the meter shows. */
import { UNITS } from '../../drivers/reading.ts';
import type { Quantity } from '../../drivers/reading.ts';

const PREFIXES: readonly (readonly [number, string])[] = [[1e6, 'M'], [1e3, 'k'], [1, ''], [1e-3, 'm'], [1e-6, 'µ']];

/**
 * "12.1 V", "0.35 ohm", "1.2 Mohm": at most four significant digits, none finer than the meter's count; without one, no zeros at the end.
 * @param value  SI; @param count  value of one count, SI, null when unknown; @param most  significant digits
 */
export function sayValue(value: number, quantity: Quantity, count: number | null, most = 4): string {
  const unit = UNITS[quantity];
  if (value === 0 && count === null) return `0${unit === '' ? '' : ` ${unit}`}`;
  // What is less than a count is said on the scale of the count.
  const size = Math.max(Math.abs(value), count ?? 0);
  // Volts are said in volts down to a hundredth: that is how limits are written.
  const [scale, prefix] = size === 0 || (size >= 0.01 && size < 1000) ? [1, ''] : PREFIXES.find(([s]) => size >= s * 0.9999) ?? [1e-6, 'µ'];
  const scaled = value / scale;
  const significant = Math.max(0, most - 1 - Math.floor(Math.log10(Math.max(Math.abs(scaled), 0.001))));
  const shown = count !== null && count > 0 ? Math.max(0, Math.ceil(-Math.log10((count / scale) * 1.0001))) : significant;
  const digits = scaled.toFixed(Math.min(6, Math.min(significant, shown)));
  // A limit is no reading: zeros at its end would claim an exactness that nobody meant.
  const text = count === null && digits.includes('.') ? digits.replace(/\.?0+$/, '') : digits;
  return `${Number(text) === 0 ? text.replace('-', '') : text}${unit === '' ? '' : ` ${prefix}${unit}`}`;
}

/** A limit as it was given, to six significant digits: "11.995 V". */
export function sayLimit(limit: number, quantity: Quantity): string { return sayValue(limit, quantity, null, LIMIT_DIGITS); }
const LIMIT_DIGITS = 6;

/** As `sayValue`; where that would read like the limit beside it without being it, with the digits that tell the two apart, down to a tenth of a count. */
export function sayBeside(limit: number, value: number, quantity: Quantity, count: number | null): string {
  const plain = sayValue(value, quantity, count);
  if (value === limit || count === null) return plain;
  for (const [own, most] of [[count, 4], [count, 8], [count / 10, 8]] as const) {
    const text = sayValue(value, quantity, own, most);
    if (text !== sayValue(limit, quantity, own, most)) return text;
  }
  return plain;
}

/** "42 s", "3.5 s", "12 ms", "7 min", "2.5 h". @param seconds  s (>= 0) */
export function sayTime(seconds: number): string {
  if (seconds === 0) return '0 s';
  if (seconds < 1e-3) return `${tidy(seconds * 1e6)} µs`;
  if (seconds < 0.9995) return `${tidy(seconds * 1e3)} ms`;
  if (seconds < 119.5) return `${tidy(seconds)} s`;
  if (seconds < 7170) return `${tidy(seconds / 60)} min`;
  return `${tidy(seconds / 3600)} h`;
}

/** Two significant digits below ten, one after the point up to a hundred, whole numbers above. */
export function tidy(value: number): string { return value === 0 ? '0' : String(Number(value.toFixed(tidyDecimals(value)))); }

/** As `tidy`, but never below the value: for what is said to be at most so much. */
export function tidyUp(value: number): string { return tidyWith(Math.ceil, value); }
/** As `tidy`, but never above the value: for what is said to be at least so much. */
export function tidyDown(value: number): string { return tidyWith(Math.floor, value); }

/** As `tidy`; where that would read like `mark` without being it, with the digits that tell them apart. */
export function tidyBeside(mark: number, value: number): string {
  if (value === mark || Number(tidy(value)) !== mark) return tidy(value);
  for (let decimals = tidyDecimals(value) + 1; decimals <= 9; decimals++) {
    const text = value.toFixed(decimals);
    if (Number(text) !== mark) return String(Number(text));
  }
  return tidy(value);
}

function tidyDecimals(value: number): number {
  const size = Math.abs(value);
  return size >= 99.5 ? 0 : size >= 9.95 ? 1 : Math.min(6, 1 - Math.floor(Math.log10(size)));
}

function tidyWith(round: (value: number) => number, value: number): string {
  if (value === 0) return '0';
  const scale = 10 ** tidyDecimals(value);
  const nearest = Math.round(value * scale);
  // What only the arithmetic of doubles put beside a round number is that number.
  return String((Math.abs(value * scale - nearest) < 1e-9 * Math.abs(nearest) ? nearest : round(value * scale)) / scale);
}

/**
 * "41 %", "under 1 %", "over 99 %".
 * @param mark  a share below which nothing is called found: what is below it is not rounded up to it
 */
export function sayShare(share: number, mark = Number.NaN): string {
  if (share > 0.995) return 'over 99 %';
  if (share > 0 && share < 0.005) return 'under 1 %';
  const whole = Math.round(100 * share);
  return `${share < mark && whole >= 100 * mark ? tidyBeside(100 * mark, 100 * share) : whole} %`;
}

/** "once", "twice", "3 times". */
export function sayTimes(count: number): string { return count === 1 ? 'once' : count === 2 ? 'twice' : `${count} times`; }

/** "1 flex", "5 flexes". */
export function sayCount(count: number, one: string, many: string): string { return `${count} ${count === 1 ? one : many}`; }

/** "a", "a and b", "a, b and c". */
export function joinWords(words: readonly string[]): string {
  return words.length < 2 ? (words[0] ?? '') : `${words.slice(0, -1).join(', ')} and ${words[words.length - 1]}`;
}
