/**
 * Cuts a line of text into numbers, known words, labels and separators. Strict where it must be: a number
 * that touches anything unknown makes the whole line unreadable, because it may be a damaged number.
 */
import { type KnownWord, knownWord, SIGNS } from './units.ts';

export type DecimalMark = 'auto' | 'point' | 'comma';

export interface NumberToken {
  readonly kind: 'number';
  readonly negative: boolean;
  /** All digits shown, without sign and decimal mark; the value is digits * 10^exponent. */
  readonly digits: string;
  readonly exponent: number;
  /** Where it stands in the line: first character (sign included) and first character after. */
  readonly start: number;
  readonly end: number;
}
export type Token =
  | NumberToken
  | { readonly kind: 'word'; readonly word: KnownWord; readonly text: string; readonly negative: boolean }
  /** Text that says nothing about the value: "CH1", a date, a time of day. */
  | { readonly kind: 'label' }
  /** Between fields: comma, semicolon, bar, tab. */
  | { readonly kind: 'separator' };

export type Tokenized =
  | { readonly kind: 'tokens'; readonly tokens: readonly Token[] }
  | { readonly kind: 'unreadable'; readonly why: 'not-text' | 'no-value' };

const NUMBER_POINT = /([+-]? *)(\d+(?:\.\d*)?|\.\d+)(?:[eE]([+-]?\d{1,3})(?!\d))?/y;
const NUMBER_COMMA = /([+-]? *)(\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE]([+-]?\d{1,3})(?!\d))?/y;
/** Digits that go on as in dates, times, version numbers, addresses. */
const LABEL_TAIL = /[.:/+-](?=\d)[\d.:/+-]*/y;
/** As displays spell it, with a zero for the O and a decimal point lit anywhere: "0.L". A unit may touch it. */
const OVER_RANGE_DISPLAY = /([+-]?) *\.?[Oo0]\.?[Ll]\.?(?=([A-Za-z%~]*))/y;
const OVER_RANGE_WORD = /([+-]?) *([A-Za-z]+)(?![A-Za-z0-9.])/y;
const DASHES = /[-.]{3,}/y;
const WORD = /(?:[Aa][Cc]\+[Dd][Cc]|[Dd][Cc]\+[Aa][Cc]|[A-Za-z%~_]+)(?:[Aa][Cc]\+[Dd][Cc])?/y;
const LABEL_WORD = /[A-Za-z_][A-Za-z0-9_]*/y;
/** Printable ASCII and tabs: what most lines are. */
const PLAIN = /^[\t\x20-\x7e]*$/;
const CHAIN_OF_COMMAS = /\d,\d+,\d/;
const POINT_IN_DIGITS = /\d\.|\.\d/;

const OVER_RANGE: KnownWord = { kind: 'over-range' };

/** True when commas between digits are decimal marks: none is chained (a list) and no point marks decimals. */
function commaIsDecimal(line: string, mark: DecimalMark): boolean {
  if (mark !== 'auto') return mark === 'comma';
  return !CHAIN_OF_COMMAS.test(line) && !POINT_IN_DIGITS.test(line);
}

/** Replaces ohm, micro and degree signs by letters. @returns null when bytes remain that no text has */
function spellSigns(line: string): string | null {
  if (PLAIN.test(line)) return line;
  let spelled = line;
  for (const [sign, letters] of SIGNS) if (spelled.includes(sign)) spelled = spelled.replaceAll(sign, letters);
  for (let i = 0; i < spelled.length; i++) {
    const code = spelled.charCodeAt(i);
    if (code > 0x7e || (code < 0x20 && code !== 0x09)) return null;
  }
  return spelled;
}

/** @param line  one line as Latin-1, without its end, not blank at its ends */
export function tokenize(line: string, mark: DecimalMark): Tokenized {
  const text = spellSigns(line);
  if (text === null) return { kind: 'unreadable', why: 'not-text' };
  const signsMoved = text.length !== line.length;
  const decimalComma = text.includes(',') && commaIsDecimal(text, mark);
  const number = decimalComma ? NUMBER_COMMA : NUMBER_POINT;
  const tokens: Token[] = [];
  const match = (regex: RegExp, at: number): RegExpExecArray | null => {
    regex.lastIndex = at;
    return regex.exec(text);
  };
  const isDigit = (at: number): boolean => at >= 0 && at < text.length && text.charCodeAt(at) >= 48 && text.charCodeAt(at) <= 57;
  const isLetter = (at: number): boolean => at < text.length && /[A-Za-z]/.test(text.charAt(at));

  let at = 0;
  while (at < text.length) {
    const char = text.charAt(at);
    if (char === ' ') { at++; continue; }
    if (char === ',' && decimalComma && isDigit(at + 1) && isDigit(at - 1)) return { kind: 'unreadable', why: 'no-value' };
    if (char === ',' && !(decimalComma && isDigit(at + 1))) { tokens.push({ kind: 'separator' }); at++; continue; }
    if (char === ';' || char === '|' || char === '\t') { tokens.push({ kind: 'separator' }); at++; continue; }
    if ('=:"()[]*<>/'.includes(char)) {
      // Between digits they are damage, unless a label ends here ("V1=12.3V").
      if (isDigit(at - 1) && isDigit(at + 1) && tokens.at(-1)?.kind !== 'label') return { kind: 'unreadable', why: 'no-value' };
      at++;
      continue;
    }

    const display = match(OVER_RANGE_DISPLAY, at);
    if (display !== null && (display[2] === '' ? !isDigit(OVER_RANGE_DISPLAY.lastIndex) : knownWord(display[2] as string)?.kind === 'unit')) {
      tokens.push({ kind: 'word', word: OVER_RANGE, text: '', negative: display[1] === '-' });
      at = OVER_RANGE_DISPLAY.lastIndex;
      continue;
    }
    const over = match(OVER_RANGE_WORD, at);
    if (over !== null && knownWord(over[2] as string)?.kind === 'over-range') {
      tokens.push({ kind: 'word', word: OVER_RANGE, text: '', negative: over[1] === '-' });
      at = OVER_RANGE_WORD.lastIndex;
      continue;
    }
    const dashes = match(DASHES, at);
    if (dashes !== null && !isDigit(DASHES.lastIndex) && !isLetter(DASHES.lastIndex)) {
      tokens.push({ kind: 'word', word: OVER_RANGE, text: '', negative: false });
      at = DASHES.lastIndex;
      continue;
    }

    const figures = match(number, at);
    if (figures !== null) {
      const end = number.lastIndex;
      const tail = match(LABEL_TAIL, end);
      if (tail !== null) {
        // A date, a time, an address: no measured value, and nothing may touch it.
        at = LABEL_TAIL.lastIndex;
        if (isLetter(at) || text.charAt(at) === '.') return { kind: 'unreadable', why: 'no-value' };
        tokens.push({ kind: 'label' });
        continue;
      }
      const digits = (figures[2] as string).replace(/[.,]/, '');
      const markAt = (figures[2] as string).search(/[.,]/);
      const decimals = markAt < 0 ? 0 : digits.length - markAt;
      tokens.push({
        kind: 'number',
        negative: (figures[1] as string).startsWith('-'),
        digits,
        exponent: Number(figures[3] ?? 0) - decimals,
        start: signsMoved ? -1 : at,
        end: signsMoved ? -1 : end,
      });
      at = end;
      if (at === text.length || text.charAt(at) === ' ') continue;
      // What touches the number must be a unit or a separator.
      const touching = match(WORD, at);
      if (touching !== null) {
        const word = knownWord(touching[0]);
        const after = WORD.lastIndex;
        if (word === undefined || isDigit(after) || (text.charAt(after) === '.' && after !== text.length - 1)) {
          return { kind: 'unreadable', why: 'no-value' };
        }
        tokens.push({ kind: 'word', word, text: touching[0], negative: false });
        at = after;
      } else if (!',;|\t=:"()[]*<>/'.includes(text.charAt(at))) {
        return { kind: 'unreadable', why: 'no-value' };
      }
      continue;
    }

    const run = match(WORD, at);
    if (run !== null) {
      const word = knownWord(run[0]);
      let after = WORD.lastIndex;
      if (isDigit(after)) {
        // "V1=" and "CH1 " are labels, "DC12.3V" is a coupling and a number; anything else is damage.
        LABEL_WORD.lastIndex = at;
        LABEL_WORD.test(text);
        const labelEnd = LABEL_WORD.lastIndex;
        const next = text.charAt(labelEnd);
        const isKnown = word !== undefined && word.kind !== 'prefix';
        if (next === '=' || next === ':' || (!isKnown && (labelEnd === text.length || ' ,;|\t'.includes(next)))) {
          tokens.push({ kind: 'label' });
          at = labelEnd;
          continue;
        }
        if (!isKnown) return { kind: 'unreadable', why: 'no-value' };
      }
      if (word === undefined) tokens.push({ kind: 'label' });
      else tokens.push({ kind: 'word', word, text: run[0], negative: false });
      if (text.charAt(after) === '.' && !isDigit(after + 1)) after++;
      at = after;
      continue;
    }
    return { kind: 'unreadable', why: 'not-text' };
  }
  return { kind: 'tokens', tokens };
}
