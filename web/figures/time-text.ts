/** Times and lengths of time as a technician reads them. Pure. */
import type { Dropout } from '../../server/diagnosis/judgement.ts';
import { texts } from '../texts.ts';

/**
 * A length of time with two significant digits and a unit that fits: "0.8 ms", "45 ms", "1.2 s", "3 min 5 s", "2 h 10 min".
 * @param seconds finite and >= 0
 */
export function durationText(seconds: number): string {
  if (seconds === 0) return '0 s';
  if (seconds < 1e-3) return `${trim(seconds * 1e6, 2)} µs`;
  if (seconds < 0.9995) return `${trim(seconds * 1e3, 2)} ms`;
  if (seconds < 9.95) return `${trim(seconds, 2)} s`;
  if (seconds < 59.5) return `${Math.round(seconds)} s`;
  const whole = Math.round(seconds);
  if (whole < 3600) return `${Math.floor(whole / 60)} min${whole % 60 === 0 ? '' : ` ${whole % 60} s`}`;
  const minutes = Math.round(seconds / 60);
  return `${Math.floor(minutes / 60)} h${minutes % 60 === 0 ? '' : ` ${minutes % 60} min`}`;
}

/** "20 to 60 ms", both ends in the unit of the larger; "at least 20 ms" or "at most 60 ms" when an end is open. */
export function durationRangeText(low: number | null, high: number | null, words: { atLeast: string; atMost: string; to: string }): string {
  if (low === null && high === null) return '–';
  if (high === null) return `${words.atLeast} ${durationText(low!)}`;
  if (low === null || low <= 0) return `${words.atMost} ${durationText(high)}`;
  const top = durationText(high);
  const bottom = durationText(low);
  if (top === bottom) return top;
  const unit = top.split(' ').slice(1).join(' ');
  return bottom.endsWith(` ${unit}`) && !unit.includes(' ') ? `${bottom.slice(0, -unit.length - 1)} ${words.to} ${top}` : `${bottom} ${words.to} ${top}`;
}

/** What is said of a dropout's length: its range; of one that chatters, from the first contact lost to the last regained. */
export function dropoutLengthText({ duration: { low, high }, count }: Pick<Dropout, 'duration' | 'count'>): string {
  const range = durationRangeText(low, high, texts.dropouts);
  return count > 1 && (low !== null || high !== null) ? texts.dropouts.inAll(range) : range;
}

/**
 * A place on a clock that starts at 0: "1:05", "1:05.25", "1:02:03".
 * @param decimals digits after the second
 */
export function clockText(seconds: number, decimals = 0): string {
  const sign = seconds < 0 ? '−' : '';
  const unit = 10 ** decimals;
  const ticks = Math.round(Math.abs(seconds) * unit);
  const whole = Math.floor(ticks / unit);
  const fraction = decimals === 0 ? '' : `.${String(ticks % unit).padStart(decimals, '0')}`;
  const two = (n: number) => String(n).padStart(2, '0');
  const hours = Math.floor(whole / 3600);
  const minutes = Math.floor(whole / 60) % 60;
  return `${sign}${hours > 0 ? `${hours}:${two(minutes)}` : minutes}:${two(whole % 60)}${fraction}`;
}

function trim(value: number, digits: number): string {
  return String(Number(value.toPrecision(digits)));
}
