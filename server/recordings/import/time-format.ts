/** Times as files write them, to seconds. */

export const TIME_FORMATS = [
  's', 'ms', 'us', 'ns', 'minutes', 'unix-s', 'unix-ms', 'unix-us', 'iso', 'clock', 'ymd-clock', 'dmy-clock', 'mdy-clock', 'spreadsheet-days',
] as const;
/**
 * s, ms, us, ns, minutes: a number since some start · unix-s, unix-ms, unix-us: a number since 1970-01-01 UTC ·
 * iso: ISO 8601 · clock: time of day, hh:mm:ss with a fraction, past midnight ·
 * ymd-clock, dmy-clock, mdy-clock: date in that order, then time of day · spreadsheet-days: days since 1899-12-30
 */
export type TimeFormat = (typeof TIME_FORMATS)[number];

const PER_SECOND: Partial<Record<TimeFormat, number>> = {
  s: 1, ms: 1e3, us: 1e6, ns: 1e9, minutes: 1 / 60, 'unix-s': 1, 'unix-ms': 1e3, 'unix-us': 1e6, 'spreadsheet-days': 1 / 86_400,
};
/** 1899-12-30 in seconds since 1970. */
const SPREADSHEET_START = -25_569 * 86_400;

const CLOCK = /^(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,:](\d+))?)?\s*(am|pm)?$/i;
const DATE_CLOCK = /^(\d{1,4})[-/.](\d{1,2})[-/.](\d{1,4})[T ,]+(.+)$/;
const ISO = /^\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(:\d{2}([.,]\d+)?)?\s*(Z|[+-]\d{2}:?\d{2})?$/i;

const NAMED_ZONE = /(Z|[+-]\d{2}:?\d{2})$/i;

/** True when the format gives wall time, so that the session knows when it began. */
export function isWallTime(format: TimeFormat): boolean {
  return /^unix|^iso|-clock$|^spreadsheet/.test(format);
}

/** True for wall time as some clock on a wall showed it: which zone is meant is for the user to say. */
export function isWithoutZone(text: string, format: TimeFormat): boolean {
  return format === 'iso' ? !NAMED_ZONE.test(text.trim()) : /-clock$|^spreadsheet/.test(format);
}

/** Seconds by which the clock of this machine was ahead of UTC when it showed this, as seconds since 1970. */
export function localOffset(shown: number): number {
  const at = new Date(shown * 1000);
  const local = new Date(at.getUTCFullYear(), at.getUTCMonth(), at.getUTCDate(), at.getUTCHours(), at.getUTCMinutes(), at.getUTCSeconds());
  return Math.floor(shown) - local.getTime() / 1000;
}

/** Times without a zone are taken as UTC. @returns seconds (since 1970 for wall time, since midnight for clock, else since whatever start), or null for text in another form */
export function readTime(text: string, format: TimeFormat): number | null {
  const trimmed = text.trim();
  const perSecond = PER_SECOND[format];
  if (perSecond !== undefined) {
    if (!/^[+-]?(\d+([.,]\d*)?|[.,]\d+)(e[+-]?\d+)?$/i.test(trimmed)) return null;
    const seconds = Number(trimmed.replace(',', '.')) / perSecond;
    return format === 'spreadsheet-days' ? seconds + SPREADSHEET_START : seconds;
  }
  if (format === 'clock') return readClock(trimmed);
  if (format === 'iso') return readIso(trimmed);
  const match = DATE_CLOCK.exec(trimmed);
  if (match === null) return null;
  const [a, b, c] = [Number(match[1]), Number(match[2]), Number(match[3])];
  const [year, month, day] = format === 'ymd-clock' ? [a, b, c] : format === 'dmy-clock' ? [c, b, a] : [c, a, b];
  const clock = readClock(match[4]!.trim());
  if (clock === null || month < 1 || month > 12 || day < 1 || day > 31) return null;
  return Date.UTC(year < 100 ? 2000 + year : year, month - 1, day) / 1000 + clock;
}

function readClock(text: string): number | null {
  const match = CLOCK.exec(text);
  if (match === null) return null;
  const [, hourText, minute = '0', second = '0', fraction = '', half] = match;
  let hour = Number(hourText);
  if (half !== undefined) hour = (hour % 12) + (half.toLowerCase() === 'pm' ? 12 : 0);
  if (hour > 24 || Number(minute) > 59 || Number(second) > 60) return null;
  return hour * 3600 + Number(minute) * 60 + Number(`${second}.${fraction === '' ? '0' : fraction}`);
}

function readIso(text: string): number | null {
  if (!ISO.test(text)) return null;
  // Date keeps milliseconds only: the fraction is added by hand.
  const fraction = /[.,](\d+)/.exec(text)?.[1];
  const whole = text.replace(/[.,]\d+/, '').replace(' ', 'T').replace(/\s+/, '');
  const ms = Date.parse(NAMED_ZONE.test(whole) ? whole : `${whole}Z`);
  return Number.isNaN(ms) ? null : ms / 1000 + (fraction === undefined ? 0 : Number(`0.${fraction}`));
}

/** Share of the texts that must be times of a format. */
const FITTING_SHARE = 0.8;

/** The formats in which nearly all of these texts are times, the likeliest first. */
export function possibleFormats(texts: readonly string[], heading: string): TimeFormat[] {
  const fits = (format: TimeFormat) => texts.filter((text) => readTime(text, format) !== null).length >= FITTING_SHARE * texts.length;
  const fitting = TIME_FORMATS.filter((format) => texts.length > 0 && fits(format));
  const name = heading.toLowerCase();
  const numbers = texts.map((text) => readTime(text, 's')).filter((value) => value !== null);
  const largest = Math.max(...numbers.map(Math.abs));
  const likely = (format: TimeFormat): number => {
    switch (format) {
      case 'ms': return /(\b|_|\()(ms|msec|millis\w*)\b/.test(name) ? 3 : 0;
      case 'us': return /(\b|_|\()(us|\u00b5s|usec|micros\w*)\b/.test(name) ? 3 : 0;
      case 'ns': return /(\b|_|\()(ns|nanos\w*)\b/.test(name) ? 3 : 0;
      case 'minutes': return /(\b|_|\()(min|minutes?)\b/.test(name) ? 3 : 0;
      // What a number since 1970 looks like from 2001 to 2100.
      case 'unix-s': return largest > 1e9 && largest < 4.2e9 ? 2 : 0;
      case 'unix-ms': return largest > 1e12 && largest < 4.2e12 ? 2 : 0;
      case 'unix-us': return largest > 1e15 && largest < 4.2e15 ? 2 : 0;
      case 'spreadsheet-days': return largest > 36_000 && largest < 74_000 && texts.every((text) => /[.,]\d{4}/.test(text)) ? 2 : 0;
      case 's': return 1;
      default: return 2;
    }
  };
  return fitting.filter((format) => likely(format) > 0 || fitting.length === 1).sort((a, b) => likely(b) - likely(a));
}
