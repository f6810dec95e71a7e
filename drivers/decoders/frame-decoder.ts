/**
 * Decoder for frames of fixed length whose layout is data. A frame counts only when everything in it agrees: its fixed bits, its
 * check sum, and digits that a display can show. Otherwise one byte is passed over and the search goes on.
 */
import type { Coupling, Quantity } from '../reading.ts';
import { Flag } from '../reading.ts';
import { checksumFits } from './checksum.ts';
import { powerOfTen, scaledDecimal } from './decimal.ts';
import type { Decoder, DecodeSink } from './decoder.ts';
import type { FrameBits, FrameLayout, FrameRule } from './frame-layout.ts';
import { characterOfSegments, SEGMENTS } from './segments.ts';
import { knownWord } from './units.ts';

/** What the digits of a frame show. */
export type ShownDigits =
  /** decimals: from a point among the digits themselves; null when there is none. */
  | { readonly kind: 'number'; readonly negative: boolean; readonly digits: number; readonly decimals: number | null }
  | { readonly kind: 'over-range'; readonly negative: boolean }
  | { readonly kind: 'blank' }
  /** Not what a meter shows: the bytes are no frame. */
  | { readonly kind: 'none' };

interface Said {
  decimals: number;
  negative: boolean;
  overRange: boolean;
  blank: boolean;
  words: string[];
}

/** A run of bytes in no frame is told at least this often. */
const LONGEST_RUN = 4096;

export class FrameDecoder implements Decoder {
  readonly #layout: FrameLayout;
  #held = new Uint8Array(0);
  #skippedRun = 0;
  #skippedWhy: 'checksum' | 'unknown-frame' = 'unknown-frame';

  constructor(layout: FrameLayout) {
    this.#layout = layout;
  }

  decode(bytes: Uint8Array, sink: DecodeSink): void {
    const { length, fixed } = this.#layout;
    const stream = this.#held.length === 0 ? bytes : joined(this.#held, bytes);
    let at = 0;
    while (stream.length - at >= length) {
      if (allHold(fixed, stream, at) && this.#tryFrame(stream.subarray(at, at + length), sink)) {
        at += length;
      } else {
        at++;
        if (++this.#skippedRun >= LONGEST_RUN) this.#tellSkipped(sink);
      }
    }
    this.#held = stream.slice(at);
  }

  #tryFrame(frame: Uint8Array, sink: DecodeSink): boolean {
    const { checksum, digits, known } = this.#layout;
    for (const { at, mask, values } of known) if (!values.includes((frame[at] as number) & mask)) return false;
    if (checksum !== undefined && !checksumFits(checksum.as, frame, checksum.from, checksum.at)) {
      this.#skippedWhy = 'checksum';
      return false;
    }
    const shown = readDigits(digits, frame);
    if (shown.kind === 'none') return false;
    this.#tellSkipped(sink);
    this.#emit(frame, shown, sink);
    return true;
  }

  #emit(frame: Uint8Array, shown: ShownDigits, sink: DecodeSink): void {
    const said = whatRulesSay(this.#layout, frame);
    const meaning = meaningOfWords(said.words);
    if (meaning === null) return sink.skipped(frame.length, 'unknown-unit');
    const { quantity, coupling, exponent, flags } = meaning;
    const isBlank = said.blank || shown.kind === 'blank';
    if (said.overRange || shown.kind !== 'number' || isBlank) {
      const isNegative = said.negative || (shown.kind === 'over-range' && shown.negative);
      const special = isBlank && !said.overRange ? Flag.blank : Flag.overRange | (isNegative ? Flag.negative : 0);
      return sink.reading({ quantity, coupling, value: NaN, resolution: NaN, flags: flags | special });
    }
    const power = exponent - (shown.decimals ?? said.decimals);
    const size = scaledDecimal(shown.digits, power);
    const isNegative = said.negative !== shown.negative;
    sink.reading({ quantity, coupling, value: isNegative ? -size : size, resolution: powerOfTen(power), flags });
  }

  #tellSkipped(sink: DecodeSink): void {
    if (this.#skippedRun === 0) return;
    sink.skipped(this.#skippedRun, this.#skippedWhy);
    this.#skippedRun = 0;
    this.#skippedWhy = 'unknown-frame';
  }
}

function joined(head: Uint8Array, tail: Uint8Array): Uint8Array {
  const whole = new Uint8Array(head.length + tail.length);
  whole.set(head);
  whole.set(tail, head.length);
  return whole;
}

/** @param from  where the frame begins among these bytes */
function allHold(bits: readonly FrameBits[], bytes: Uint8Array, from: number): boolean {
  for (const { at, mask, equals } of bits) if (((bytes[from + at] as number) & mask) !== equals) return false;
  return true;
}

function whatRulesSay(layout: FrameLayout, frame: Uint8Array): Said {
  const said: Said = { decimals: layout.decimals, negative: false, overRange: false, blank: false, words: [...layout.words] };
  for (const rule of layout.rules) if (allHold(rule.when, frame, 0)) apply(rule, said);
  return said;
}

function apply(rule: FrameRule, said: Said): void {
  if (rule.decimals !== undefined) said.decimals = rule.decimals;
  if (rule.negative === true) said.negative = true;
  if (rule.overRange === true) said.overRange = true;
  if (rule.blank === true) said.blank = true;
  if (rule.words !== undefined) said.words.push(...rule.words);
}

/** Words lit on the display, put together: "k" and "Ohm", "DC" and "AC". @returns null for words that are unknown or a unit that has no quantity here */
export function meaningOfWords(words: readonly string[]): { quantity: Quantity; coupling: Coupling; exponent: number; flags: number } | null {
  let flags = 0;
  let coupling: Coupling = 'none';
  let prefix = '';
  let unit = '';
  const couple = (next: Coupling): void => {
    if (next !== 'none') coupling = coupling === 'none' || coupling === next ? next : 'acdc';
  };
  for (const text of words) {
    const word = knownWord(text);
    if (word === undefined) return null;
    if (word.kind === 'flag') flags |= word.flags;
    else if (word.kind === 'coupling') couple(word.coupling);
    else if (word.kind === 'prefix') prefix = text;
    else if (word.kind === 'unit') unit = text;
    else if (word.kind === 'over-range') flags |= Flag.overRange;
  }
  if (unit === '') return prefix === '' ? { quantity: 'unknown', coupling, exponent: 0, flags } : null;
  const whole = knownWord(prefix + unit);
  if (whole?.kind !== 'unit' || whole.quantity === null || whole.scale !== 'plain') return null;
  couple(whole.coupling);
  return { quantity: whole.quantity, coupling, exponent: whole.exponent, flags };
}

/** Reads the digits of a frame as a person would read the display. */
export function readDigits(digits: FrameLayout['digits'], frame: Uint8Array): ShownDigits {
  switch (digits.as) {
    case 'integer': {
      let value = 0;
      for (let i = 0; i < digits.bytes; i++) {
        const at = digits.order === 'high-first' ? digits.at + i : digits.at + digits.bytes - 1 - i;
        value = value * 256 + (frame[at] as number);
      }
      if (digits.signed && value >= 2 ** (8 * digits.bytes - 1)) value -= 2 ** (8 * digits.bytes);
      return { kind: 'number', negative: value < 0, digits: Math.abs(value), decimals: null };
    }
    case 'bcd': {
      let value = 0;
      for (const { at, half } of digits.halves) {
        const digit = half === 'high' ? (frame[at] as number) >> 4 : (frame[at] as number) & 15;
        if (digit > 9) return { kind: 'none' };
        value = value * 10 + digit;
      }
      return { kind: 'number', negative: false, digits: value, decimals: null };
    }
    case 'ascii': {
      let text = '';
      for (let i = 0; i < digits.length; i++) text += String.fromCharCode(frame[digits.at + i] as number);
      return readShown(text);
    }
    case 'segments': {
      let text = '';
      for (const place of digits.places) {
        let shape = 0;
        for (let i = 0; i < SEGMENTS.length; i++) {
          const { at, bit } = place[SEGMENTS[i] as (typeof SEGMENTS)[number]];
          shape |= (((frame[at] as number) >> bit) & 1) << i;
        }
        const character = characterOfSegments(shape);
        if (character === undefined) return { kind: 'none' };
        text += character;
      }
      return readShown(text);
    }
  }
}

/** "-12.34", " 0L ", "----", "    ". */
function readShown(text: string): ShownDigits {
  const trimmed = text.trim();
  if (trimmed === '') return { kind: 'blank' };
  if (/^-?[0O]?\.?L\.?$|^-{2,}$/.test(trimmed)) return { kind: 'over-range', negative: /^-[0OL.]/.test(trimmed) };
  const number = /^([+-]?) *(\d*)(?:\.(\d*))?$/.exec(trimmed);
  const whole = `${number?.[2] ?? ''}${number?.[3] ?? ''}`;
  if (number === null || whole === '') return { kind: 'none' };
  return { kind: 'number', negative: number[1] === '-', digits: Number(whole), decimals: number[3] === undefined ? null : number[3].length };
}
