/**
 * Decoder for lines of text as generic meters print them: a number in one of the forms of IEEE 488.2 (NR1 whole, NR2 with a
 * point, NR3 with an exponent), a unit with an SI prefix, words for coupling, over-range and what the display does.
 *
 * One line gives one reading: the value in the field asked for, else the first value whose unit is known, else
 * the first number. The SI value is the double nearest to the decimal number shown, the resolution one step of its last digit.
 *
 * Two ways through: `readLine` understands any line; most lines of a meter differ from the one before only in
 * the digits, and for those a template of what stood around the number answers at once.
 */
import type { Coupling, Quantity, Reading } from '../reading.ts';
import { Flag } from '../reading.ts';
import type { SkipReason } from './decoder.ts';
import { powerOfTen, scaledDecimal } from './decimal.ts';
import { type DecimalMark, type NumberToken, type Token, tokenize } from './text-tokens.ts';
import { knownWord, type UnitWord } from './units.ts';

export interface TextLineOptions {
  /** Which value of the line, counted from 1; chosen by its unit when left out. */
  readonly field?: number;
  /** What commas between digits are; found out from the line when left out or `auto`. */
  readonly decimal?: DecimalMark;
  /** Unit of a number that comes without one, e.g. `V` or `mV DC`. */
  readonly unit?: string;
}

export type DecodedLine =
  | { readonly kind: 'reading'; readonly reading: Reading }
  | { readonly kind: 'skipped'; readonly why: SkipReason }
  /** Nothing on the line. */
  | { readonly kind: 'empty' };

/** What a line says beside the digits. */
interface Meaning {
  readonly quantity: Quantity;
  readonly coupling: Coupling;
  readonly exponent: number;
  readonly scale: UnitWord['scale'];
  readonly flags: number;
}

interface Template extends Meaning {
  /** Text before the number and its sign, and after the number. */
  readonly before: string;
  readonly after: string;
  /** There are other digits in that text (a counter, a clock, a second value); they may change, and say nothing about this value. */
  readonly hasOtherDigits: boolean;
  /** Some of them come after the number. */
  readonly hasDigitsAfter: boolean;
  /** The number has a decimal point. With other digits about, a comma may mean something else in a line without one. */
  readonly hasPoint: boolean;
}

const EMPTY: DecodedLine = { kind: 'empty' };
const NO_VALUE: DecodedLine = { kind: 'skipped', why: 'no-value' };
const UNKNOWN_UNIT: DecodedLine = { kind: 'skipped', why: 'unknown-unit' };

/** SCPI-99 answers 9.9E37 for infinity and 9.91E37 for not-a-number. */
const INFINITY_SHOWN = 9.9e37;
const NOT_A_NUMBER_SHOWN = 9.91e37;

const SPACE = 0x20;
const PLUS = 0x2b;
const MINUS = 0x2d;
const POINT = 0x2e;
const ZERO = 0x30;
const NINE = 0x39;
/** Fifteen digits always fit in 2^53. */
const MOST_DIGITS = 15;

export class TextLineDecoder {
  readonly #field: number | undefined;
  readonly #decimal: DecimalMark;
  readonly #defaultUnit: UnitWord | undefined;
  #template: Template | null = null;
  #lastLine = '';
  #lastDecoded: DecodedLine = EMPTY;

  /** @throws {RangeError} for a field that is no whole number from 1, or a unit that is not known */
  constructor(options: TextLineOptions = {}) {
    if (options.field !== undefined && !(Number.isInteger(options.field) && options.field >= 1)) {
      throw new RangeError(`field must be a whole number from 1, not ${options.field}`);
    }
    this.#field = options.field;
    this.#decimal = options.decimal ?? 'auto';
    this.#defaultUnit = options.unit === undefined ? undefined : unitFromText(options.unit);
  }

  /** @param line  as Latin-1, with or without its end; spaces and control characters around it are ignored */
  decodeLine(line: string): DecodedLine {
    const template = this.#template;
    if (template !== null) {
      const reading = readByTemplate(line, template);
      if (reading !== null) return { kind: 'reading', reading };
    }
    // A meter at over-range sends the same line again and again.
    if (line === this.#lastLine) return this.#lastDecoded;
    this.#lastLine = line;
    this.#lastDecoded = this.#readLine(line);
    return this.#lastDecoded;
  }

  #readLine(raw: string): DecodedLine {
    let from = 0;
    let to = raw.length;
    while (from < to && raw.charCodeAt(from) <= SPACE) from++;
    while (to > from && raw.charCodeAt(to - 1) <= SPACE) to--;
    if (from === to) return EMPTY;
    const tokenized = tokenize(raw.slice(from, to), this.#decimal);
    if (tokenized.kind === 'unreadable') return { kind: 'skipped', why: tokenized.why };
    const fields = valuesOf(tokenized.tokens);
    if (fields.length === 0) return NO_VALUE;
    const chosen = this.#choose(fields);
    if (chosen === undefined) return NO_VALUE;
    const unit = chosen.unit ?? this.#defaultUnit;
    if (unit !== undefined && unit.quantity === null) return UNKNOWN_UNIT;
    const meaning: Meaning = {
      quantity: unit?.quantity ?? 'unknown',
      coupling: chosen.coupling ?? unit?.coupling ?? 'none',
      exponent: unit?.exponent ?? 0,
      scale: unit?.scale ?? 'plain',
      flags: flagsOf(tokenized.tokens),
    };
    const { value } = chosen;
    if (value.kind === 'over-range') {
      const flags = meaning.flags | Flag.overRange | (value.negative ? Flag.negative : 0);
      return { kind: 'reading', reading: { quantity: meaning.quantity, coupling: meaning.coupling, value: NaN, resolution: NaN, flags } };
    }
    const hasOverRange = tokenized.tokens.some((token) => token.kind === 'word' && token.word.kind === 'over-range');
    if (!hasOverRange) this.#remember(raw, from, value, meaning);
    const digits = Number(value.digits);
    const exact = value.digits.length <= MOST_DIGITS;
    return { kind: 'reading', reading: readingOf(exact ? digits : value.digits, value.exponent, value.negative, meaning) };
  }

  /** Keeps what stood around the number, when nothing that touches it could be taken for a part of it. */
  #remember(raw: string, from: number, value: NumberToken, meaning: Meaning): void {
    if (value.start < 0) return;
    const before = raw.slice(0, from + value.start);
    const after = raw.slice(from + value.end);
    const shown = raw.slice(from + value.start, from + value.end);
    // A decimal comma was read, or digits that the quick way would read otherwise.
    if (shown.includes(',') || /[0-9.]$/.test(before) || /[+-] *$/.test(before) || /^[.eE]/.test(after)) return;
    const hasDigitsAfter = /[0-9]/.test(after);
    const hasOtherDigits = hasDigitsAfter || /[0-9]/.test(before);
    this.#template = { ...meaning, before, after, hasOtherDigits, hasDigitsAfter, hasPoint: shown.includes('.') };
  }

  #choose(fields: readonly MeasuredField[]): MeasuredField | undefined {
    if (this.#field !== undefined) return fields[this.#field - 1];
    return fields.find((field) => field.unit !== undefined && field.unit.quantity !== null)
      ?? fields.find((field) => field.unit === undefined)
      ?? fields[0];
  }
}

/**
 * Goes past a piece of the template in a line: digits may be others, and more or fewer; all else must be the same.
 * @returns where the piece ends in the line; -1 when the line differs
 */
function passPiece(line: string, from: number, piece: string): number {
  let at = from;
  for (let i = 0; i < piece.length; i++) {
    const code = piece.charCodeAt(i);
    if (code < ZERO || code > NINE) {
      if (line.charCodeAt(at++) !== code) return -1;
      continue;
    }
    while (i + 1 < piece.length && isDigitCode(piece.charCodeAt(i + 1))) i++;
    const first = at;
    while (isDigitCode(line.charCodeAt(at))) at++;
    if (at === first) return -1;
  }
  return at;
}

function isDigitCode(code: number): boolean {
  return code >= ZERO && code <= NINE;
}

/** The quick way: a line that is like the one before but for its digits. @returns null for any other line */
function readByTemplate(line: string, template: Template): Reading | null {
  const { before, after, hasOtherDigits } = template;
  let at = before.length;
  let length = line.length - after.length;
  if (hasOtherDigits) {
    at = passPiece(line, 0, before);
    if (at < 0) return null;
    length = line.length;
  } else if (length <= at || !line.startsWith(before) || !line.endsWith(after)) {
    return null;
  }
  let code = line.charCodeAt(at);
  let negative = false;
  if (code === PLUS || code === MINUS) {
    negative = code === MINUS;
    do code = line.charCodeAt(++at); while (code === SPACE && at < length);
  }
  let digits = 0;
  let count = 0;
  let decimals = -1;
  while (at < length) {
    if (code >= ZERO && code <= NINE) {
      digits = digits * 10 + (code - ZERO);
      count++;
      if (decimals >= 0) decimals++;
    } else if (code === POINT && decimals < 0) {
      decimals = 0;
    } else {
      break;
    }
    code = line.charCodeAt(++at);
  }
  if (count === 0 || count > MOST_DIGITS) return null;
  let exponent = decimals > 0 ? -decimals : 0;
  if (hasOtherDigits) {
    // What follows is matched piece by piece; an exponent is left to the slow way.
    if ((decimals >= 0) !== template.hasPoint) return null;
    const isSame = template.hasDigitsAfter ? passPiece(line, at, after) === line.length : at + after.length === line.length && line.endsWith(after);
    if (!isSame) return null;
  } else if (at < length) {
    // Only an exponent may stand between the digits and what followed them before.
    if (code !== 0x45 && code !== 0x65) return null;
    code = line.charCodeAt(++at);
    const down = code === MINUS;
    if (code === PLUS || code === MINUS) code = line.charCodeAt(++at);
    const first = at;
    let power = 0;
    while (at < length && code >= ZERO && code <= NINE) {
      power = power * 10 + (code - ZERO);
      code = line.charCodeAt(++at);
    }
    if (at !== length || at === first || at - first > 3) return null;
    exponent += down ? -power : power;
  }
  return readingOf(digits, exponent, negative, template);
}

/** @param digits  the digits shown, as a whole number, or as text when there are more than a double holds */
function readingOf(digits: number | string, exponent: number, negative: boolean, meaning: Meaning): Reading {
  const { quantity, coupling, scale, flags } = meaning;
  const shown = exponent >= 20 ? Number(`${digits}e${exponent}`) : 0;
  if (shown !== 0 && shown >= INFINITY_SHOWN) {
    const special = shown === NOT_A_NUMBER_SHOWN ? Flag.blank : Flag.overRange | (negative ? Flag.negative : 0);
    return { quantity, coupling, value: NaN, resolution: NaN, flags: flags | special };
  }
  const power = exponent + meaning.exponent;
  const size = typeof digits === 'number' ? scaledDecimal(digits, power) : Number(`${digits}e${power}`);
  let value = negative ? -size : size;
  let resolution = powerOfTen(power);
  if (scale === 'fahrenheit') {
    value = ((value - 32) * 5) / 9;
    resolution = (resolution * 5) / 9;
  } else if (scale === 'kelvin') {
    value -= 273.15;
  }
  return { quantity, coupling, value, resolution, flags };
}

interface MeasuredField {
  readonly value: NumberToken | { readonly kind: 'over-range'; readonly negative: boolean };
  readonly unit: UnitWord | undefined;
  readonly coupling: Coupling | undefined;
}

/** A value with the words before it and after it that may be its own. */
interface Loose {
  value: MeasuredField['value'];
  before: Token[];
  after: Token[];
}

/** Joins each value of a line with its unit and coupling. */
function valuesOf(tokens: readonly Token[]): MeasuredField[] {
  return groupsOf(joinPrefixes(tokens)).flatMap(valuesOfGroup);
}

/** What a prefix with no unit behind it comes to: the number is a thousand times something, but of what? */
const LONE_PREFIX: UnitWord = { kind: 'unit', quantity: null, exponent: 0, coupling: 'none', scale: 'plain' };

/** "k Ohm" to "kOhm", "deg C" to "degC". */
function joinPrefixes(tokens: readonly Token[]): Token[] {
  const joined: Token[] = [];
  for (let i = 0; i < tokens.length; i++) {
    const token = tokens[i] as Token;
    if (token.kind === 'word' && token.word.kind === 'prefix') {
      const next = tokens[i + 1];
      const unit = next?.kind === 'word' ? knownWord(token.text + next.text) : undefined;
      const isUnit = unit?.kind === 'unit';
      joined.push({ kind: 'word', word: isUnit ? unit : LONE_PREFIX, text: '', negative: false });
      if (isUnit) i++;
    } else {
      joined.push(token);
    }
  }
  return joined;
}

/** Splits at separators, and gives a part without a value to the value before it, or else to the one after. */
function groupsOf(tokens: readonly Token[]): Token[][] {
  const parts: Token[][] = [[]];
  for (const token of tokens) {
    if (token.kind === 'separator') parts.push([]);
    else (parts.at(-1) as Token[]).push(token);
  }
  const groups: Token[][] = [];
  let leading: Token[] = [];
  for (const part of parts) {
    if (part.some(isValue)) {
      groups.push([...leading, ...part]);
      leading = [];
    } else if (groups.length > 0) {
      (groups.at(-1) as Token[]).push(...part);
    } else {
      leading.push(...part);
    }
  }
  return groups;
}

function valuesOfGroup(group: readonly Token[]): MeasuredField[] {
  const loose: Loose[] = [];
  let words: Token[] = [];
  for (const token of group) {
    if (isValue(token)) {
      const value = token.kind === 'number' ? token : ({ kind: 'over-range', negative: token.negative } as const);
      loose.push({ value, before: words, after: [] });
      words = [];
    } else {
      words.push(token);
      loose.at(-1)?.after.push(token);
    }
  }
  // "V 12.3 Hz 50" leads with its units, "12.3 V 50 Hz" trails them; a lone value may do either.
  const first = loose[0];
  const leads = first !== undefined && loose.length > 1 && unitIn(first.before) !== undefined && unitIn((loose.at(-1) as Loose).after) === undefined;
  return loose.map((field, i) => {
    const unit = leads ? unitIn(field.before) : unitIn(field.after) ?? (i === 0 ? unitIn(field.before) : undefined);
    const coupling = leads ? couplingIn(field.before) : couplingIn(field.after) ?? (i === 0 ? couplingIn(field.before) : undefined);
    return { value: field.value, unit, coupling };
  });
}

function isValue(token: Token): token is NumberToken | (Token & { kind: 'word' }) {
  return token.kind === 'number' || (token.kind === 'word' && token.word.kind === 'over-range');
}

function unitIn(tokens: readonly Token[]): UnitWord | undefined {
  for (const token of tokens) if (token.kind === 'word' && token.word.kind === 'unit') return token.word;
  return undefined;
}

function couplingIn(tokens: readonly Token[]): Coupling | undefined {
  let found: Coupling | undefined;
  for (const token of tokens) {
    if (token.kind !== 'word') continue;
    const coupling = token.word.kind === 'coupling' ? token.word.coupling
      : token.word.kind === 'unit' && token.word.coupling !== 'none' ? token.word.coupling : undefined;
    if (coupling === undefined || coupling === found) continue;
    found = found === undefined ? coupling : 'acdc';
  }
  return found;
}

function flagsOf(tokens: readonly Token[]): number {
  let flags = 0;
  for (const token of tokens) if (token.kind === 'word' && token.word.kind === 'flag') flags |= token.word.flags;
  return flags;
}

/** @throws {RangeError} for text that names no unit */
function unitFromText(text: string): UnitWord {
  const decoded = tokenize(text.trim(), 'point');
  const tokens = decoded.kind === 'tokens' ? joinPrefixes(decoded.tokens) : [];
  const unit = unitIn(tokens);
  if (unit === undefined || unit.quantity === null) {
    throw new RangeError(`"${text}" is not a unit that can be read; write for example V, mV DC, kOhm, A or degC`);
  }
  const coupling = couplingIn(tokens);
  return coupling === undefined ? unit : { ...unit, coupling };
}
