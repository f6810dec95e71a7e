/** Every way in which the digits of a display can lie in a frame, as far as it fits the examples. Pure. */
import { type ShownDigits, readDigits } from '../decoders/frame-decoder.ts';
import type { FrameLayout } from '../decoders/frame-layout.ts';
import { SEGMENTS, segmentsOfCharacter } from '../decoders/segments.ts';

export type DigitsLayout = FrameLayout['digits'];

export interface NumberExample {
  readonly frame: Uint8Array;
  readonly negative: boolean;
  readonly digits: string;
  readonly decimals: number;
}

export interface DigitsFit {
  readonly digits: DigitsLayout;
  /** How many digits after the point the number held has, when that is the same for all examples; null: it is the number as shown. */
  readonly fixedDecimals: number | null;
  /** The digits tell the sign themselves. */
  readonly carriesSign: boolean;
  /** The digits tell the place of the point themselves. */
  readonly carriesPoint: boolean;
  /** Bits of each byte that the digits take. */
  readonly taken: Uint8Array;
}

/** Most ways kept of one kind: more only means that the examples tell nothing. */
const MOST_WAYS = 64;

/**
 * @param frames  all captured frames: in each the digits must be digits
 * @param examples  at least one
 * @returns ways that fit all examples, the likeliest kind first
 */
export function fitDigits(frames: readonly Uint8Array[], examples: readonly NumberExample[]): DigitsFit[] {
  const length = (examples[0] as NumberExample).frame.length;
  const fits = [...fitAscii(length, frames, examples), ...fitSegments(length, frames, examples), ...fitBcd(length, frames, examples), ...fitIntegers(length, examples)];
  return fits.slice(0, 4 * MOST_WAYS);
}

/** Sizes must agree; a sign among the digits must agree, and if none of them has one it is looked for elsewhere. */
function agree(shown: ShownDigits, example: NumberExample): boolean {
  if (shown.kind !== 'number' || shown.digits !== Number(example.digits)) return false;
  if (shown.decimals !== null && shown.decimals !== example.decimals) return false;
  return !shown.negative || example.negative;
}

function carriesSign(digits: DigitsLayout, examples: readonly NumberExample[]): boolean {
  const negatives = examples.filter((example) => example.negative && Number(example.digits) !== 0);
  return negatives.length > 0 && negatives.every(({ frame }) => {
    const shown = readDigits(digits, frame);
    return shown.kind === 'number' && shown.negative;
  });
}

function fitAscii(length: number, frames: readonly Uint8Array[], examples: readonly NumberExample[]): DigitsFit[] {
  const fits: DigitsFit[] = [];
  const mostDigits = Math.max(...examples.map(({ digits }) => digits.length));
  // Longest first: a display shows leading blanks where other values have digits. A sign and a point may stand among them.
  for (let size = Math.min(mostDigits + 2, length); size >= 1; size--) {
    for (let at = 0; at + size <= length; at++) {
      const digits: DigitsLayout = { as: 'ascii', at, length: size };
      if (!examples.every((example) => agree(readDigits(digits, example.frame), example))) continue;
      if (frames.some((frame) => readDigits(digits, frame).kind === 'none')) continue;
      // Within a longer fit this one says nothing new.
      if (fits.some(({ digits: other }) => other.as === 'ascii' && other.at <= at && other.at + other.length >= at + size)) continue;
      const carriesPoint = examples.every(({ frame, decimals }) => {
        const shown = readDigits(digits, frame);
        return shown.kind === 'number' && (shown.decimals ?? 0) === decimals;
      }) && examples.some(({ decimals }) => decimals > 0);
      const taken = new Uint8Array(length);
      taken.fill(0xff, at, at + size);
      fits.push({ digits, fixedDecimals: null, carriesSign: carriesSign(digits, examples), carriesPoint, taken });
    }
  }
  return fits.slice(0, MOST_WAYS);
}

/** Orders in which half bytes can follow each other, as lists of places from the most significant digit. */
function halfByteOrders(length: number): { at: number; half: 'high' | 'low' }[][] {
  const bytes = Array.from({ length }, (_, at) => at);
  const packed = bytes.flatMap((at) => [{ at, half: 'high' }, { at, half: 'low' }] as const);
  const swapped = bytes.flatMap((at) => [{ at, half: 'low' }, { at, half: 'high' }] as const);
  const low = bytes.map((at) => ({ at, half: 'low' }) as const);
  const high = bytes.map((at) => ({ at, half: 'high' }) as const);
  // Forwards, and backwards (least significant digit first).
  return [packed, swapped, low, high].flatMap((order) => [[...order], [...order].reverse()]);
}

function fitBcd(length: number, frames: readonly Uint8Array[], examples: readonly NumberExample[]): DigitsFit[] {
  const fits: DigitsFit[] = [];
  const fewestDigits = Math.max(...examples.map(({ digits }) => String(Number(digits)).length));
  const mostDigits = Math.max(...examples.map(({ digits }) => digits.length));
  for (const order of halfByteOrders(length)) {
    for (let end = 1; end <= order.length; end++) {
      // As many digits as were typed and all frames allow; one more that is lit some day is a value not known, and asked for.
      let best: DigitsLayout | null = null;
      for (let size = fewestDigits; size <= Math.min(mostDigits, end); size++) {
        const digits: DigitsLayout = { as: 'bcd', halves: order.slice(end - size, end) };
        if (!examples.every((example) => agree(readDigits(digits, example.frame), example))) break;
        if (frames.some((frame) => readDigits(digits, frame).kind !== 'number')) break;
        best = digits;
      }
      if (best === null) continue;
      const taken = new Uint8Array(length);
      for (const { at, half } of best.halves) taken[at] = (taken[at] as number) | (half === 'high' ? 0xf0 : 0x0f);
      fits.push({ digits: best, fixedDecimals: null, carriesSign: false, carriesPoint: false, taken });
    }
  }
  return fits.slice(0, MOST_WAYS);
}

function fitIntegers(length: number, examples: readonly NumberExample[]): DigitsFit[] {
  const fits: DigitsFit[] = [];
  const decimalsVary = new Set(examples.map(({ decimals }) => decimals)).size > 1;
  const mostDecimals = Math.max(...examples.map(({ decimals }) => decimals));
  const scales: (number | null)[] = [null];
  if (decimalsVary) for (let fixed = mostDecimals; fixed <= mostDecimals + 3; fixed++) scales.push(fixed);
  for (let bytes = 1; bytes <= 4; bytes++) {
    for (let at = 0; at + bytes <= length; at++) {
      for (const order of bytes === 1 ? (['high-first'] as const) : (['high-first', 'low-first'] as const)) {
        for (const signed of [false, true]) {
          const digits: DigitsLayout = { as: 'integer', at, bytes, order, signed };
          for (const fixedDecimals of scales) {
            const fitsAll = examples.every((example) => {
              const shown = readDigits(digits, example.frame);
              if (shown.kind !== 'number') return false;
              const size = Number(example.digits) * (fixedDecimals === null ? 1 : 10 ** (fixedDecimals - example.decimals));
              return shown.digits === size && (!signed || shown.negative === (example.negative && size !== 0));
            });
            if (!fitsAll) continue;
            const taken = new Uint8Array(length);
            taken.fill(0xff, at, at + bytes);
            fits.push({ digits, fixedDecimals, carriesSign: signed && carriesSign(digits, examples), carriesPoint: fixedDecimals !== null, taken });
          }
        }
      }
    }
  }
  return fits.slice(0, MOST_WAYS);
}

/** Segments that some displays light and others do not, by digit: the top of 6, the upper left of 7, the bottom of 9. */
const OPTIONAL: Record<string, number> = { 6: 0, 7: 5, 9: 3 };

/**
 * Digits of segments lie in one or two bytes each, all in the same order, evenly spaced. Every digit of every example is one more
 * condition on which bit is which segment, so that few examples settle it.
 */
function fitSegments(length: number, frames: readonly Uint8Array[], examples: readonly NumberExample[]): DigitsFit[] {
  const fits: DigitsFit[] = [];
  const mostDigits = Math.max(...examples.map(({ digits }) => digits.length));
  for (const window of [1, 2]) {
    for (const stride of [window, -window, window + 1, -window - 1]) {
      // `base` is where the least significant digit begins; more significant ones lie `stride` before it.
      for (let base = 0; base + window <= length; base++) {
        const furthest = base - stride * (mostDigits - 1);
        if (furthest < 0 || furthest + window > length) continue;
        const bits = segmentBits(window, stride, base, examples);
        if (bits === null) continue;
        for (const choice of choices(bits)) {
          const fit = segmentFit(length, stride, base, mostDigits, choice, frames, examples);
          if (fit !== null) fits.push(fit);
          if (fits.length >= MOST_WAYS) return fits;
        }
      }
    }
  }
  return fits;
}

interface WindowBit { readonly offset: number; readonly bit: number }

/** For each segment the bits that agree with all digits of all examples; null when a segment has none. */
function segmentBits(window: number, stride: number, base: number, examples: readonly NumberExample[]): WindowBit[][] | null {
  const all: WindowBit[] = [];
  for (let offset = 0; offset < window; offset++) for (let bit = 0; bit < 8; bit++) all.push({ offset, bit });
  const result: WindowBit[][] = [];
  for (let segment = 0; segment < SEGMENTS.length; segment++) {
    const fitting = all.filter(({ offset, bit }) => examples.every(({ frame, digits }) => {
      for (let j = 0; j < digits.length; j++) {
        const character = digits.charAt(digits.length - 1 - j);
        if (OPTIONAL[character] === segment) continue;
        const isLit = (segmentsOfCharacter(character) >> segment) & 1;
        if ((((frame[base - stride * j + offset] as number) >> bit) & 1) !== isLit) return false;
      }
      return true;
    }));
    if (fitting.length === 0) return null;
    result.push(fitting);
  }
  return result;
}

/** One bit for each segment, all different. */
function* choices(bits: readonly WindowBit[][]): Iterable<WindowBit[]> {
  const chosen: WindowBit[] = [];
  let given = 0;
  function* choose(segment: number): Iterable<WindowBit[]> {
    if (given >= MOST_WAYS) return;
    if (segment === bits.length) {
      given++;
      yield [...chosen];
      return;
    }
    for (const bit of bits[segment] as WindowBit[]) {
      if (chosen.includes(bit) || chosen.some((other) => other.offset === bit.offset && other.bit === bit.bit)) continue;
      chosen.push(bit);
      yield* choose(segment + 1);
      chosen.pop();
    }
  }
  yield* choose(0);
}

function segmentFit(
  length: number, stride: number, base: number, mostDigits: number, choice: readonly WindowBit[], frames: readonly Uint8Array[], examples: readonly NumberExample[],
): DigitsFit | null {
  const placeAt = (from: number): (DigitsLayout & { as: 'segments' })['places'][number] => (
    Object.fromEntries(SEGMENTS.map((name, i) => [name, { at: from + (choice[i] as WindowBit).offset, bit: (choice[i] as WindowBit).bit }])) as (DigitsLayout & { as: 'segments' })['places'][number]
  );
  const digits = { as: 'segments' as const, places: Array.from({ length: mostDigits }, (_, i) => placeAt(base - stride * (mostDigits - 1 - i))) };
  if (!examples.every((example) => agree(readDigits(digits, example.frame), example))) return null;
  if (frames.some((frame) => readDigits(digits, frame).kind === 'none')) return null;
  const taken = new Uint8Array(length);
  for (const place of digits.places) for (const { at, bit } of Object.values(place)) taken[at] = (taken[at] as number) | (1 << bit);
  return { digits, fixedDecimals: null, carriesSign: false, carriesPoint: false, taken };
}
