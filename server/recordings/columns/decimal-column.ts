/**
 * Doubles that came from decimal displays, bit for bit. A meter's "12.34 mV" is the double nearest to 1234 / 10^5,
 * and IEEE 754 division gives exactly that double, so the column is stored as whole numbers over one power of ten.
 * NaN is stored as runs; the few values that no power of ten gives back (negative zero, infinities, computed
 * values) are listed; a column with many of them is stored raw, as byte planes of the bits XOR those before.
 */
import { type ByteReader, type ByteWriter, DamagedBytes } from './bytes.ts';
import { LARGEST_INTEGER, readIntegers, writeIntegers } from './integer-column.ts';
import { readRuns, writeRuns } from './run-column.ts';

const RAW = 0;
const DECIMAL = 1;
/** Powers of ten up to 10^22 are exact doubles; displays end far before. */
const SMALLEST_EXPONENT = -9;
const LARGEST_EXPONENT = 18;
const POWERS = Array.from({ length: LARGEST_EXPONENT + 1 }, (_, i) => Number(`1e${i}`));
/** More exceptions than this share of the column, and raw is smaller. */
const EXCEPTION_SHARE = 1 / 16;

export function writeDoubles(out: ByteWriter, values: Float64Array): void {
  const exponent = commonExponent(values);
  const n = values.length;
  const integers = new Float64Array(n);
  const isNaNs = new Uint8Array(n);
  const exceptions: number[] = [];
  let last = 0;
  if (exponent !== null) {
    for (let i = 0; i < n; i++) {
      const value = values[i]!;
      if (Number.isNaN(value)) {
        isNaNs[i] = 1;
      } else {
        const integer = toInteger(value, exponent);
        if (Math.abs(integer) <= LARGEST_INTEGER && Object.is(fromInteger(integer, exponent), value)) last = integer;
        else exceptions.push(i);
      }
      integers[i] = last;
    }
  }
  if (exponent === null || exceptions.length > n * EXCEPTION_SHARE) {
    out.byte(RAW);
    writeRaw(out, values);
    return;
  }
  out.byte(DECIMAL);
  out.byte(exponent - SMALLEST_EXPONENT);
  out.count(exceptions.length);
  let before = 0;
  for (const index of exceptions) {
    out.count(index - before);
    out.double(values[index]!);
    before = index;
  }
  writeRuns(out, isNaNs);
  writeIntegers(out, integers);
}

export function readDoubles(from: ByteReader, n: number): Float64Array {
  const form = from.byte();
  if (form === RAW) return readRaw(from, n);
  if (form !== DECIMAL) throw new DamagedBytes('a column of values has an unknown form');
  const exponent = from.byte() + SMALLEST_EXPONENT;
  if (exponent > LARGEST_EXPONENT) throw new DamagedBytes('a column of values has an unknown scale');
  const exceptions = Array.from({ length: checkedCount(from.count(), n) }, () => ({ step: from.count(), value: from.double() }));
  const isNaNs = readRuns(from, new Uint8Array(n));
  const values = readIntegers(from, n);
  const power = POWERS[Math.abs(exponent)]!;
  if (exponent >= 0) for (let i = 0; i < n; i++) values[i] = values[i]! / power;
  else for (let i = 0; i < n; i++) values[i] = values[i]! * power;
  for (let i = 0; i < n; i++) if (isNaNs[i] === 1) values[i] = NaN;
  let index = 0;
  for (const { step, value } of exceptions) {
    index += step;
    if (index >= n) throw new DamagedBytes('an exception lies outside its column');
    values[index] = value;
  }
  return values;
}

/** The smallest power of ten that gives back nearly all of a spread of the values; null when there is none. */
function commonExponent(values: Float64Array): number | null {
  const stride = Math.max(1, Math.floor(values.length / 512));
  /** How many values need each power of ten. */
  const needed = new Map<number, number>();
  let tried = 0;
  let last = SMALLEST_EXPONENT;
  for (let i = 0; i < values.length; i += stride) {
    const value = values[i]!;
    if (Number.isNaN(value)) continue;
    tried++;
    // Most values need what the one before needed.
    let own = last > SMALLEST_EXPONENT && givesBack(value, last) && !givesBack(value, last - 1) ? last : SMALLEST_EXPONENT;
    while (own <= LARGEST_EXPONENT && !givesBack(value, own)) own++;
    last = own;
    needed.set(own, (needed.get(own) ?? 0) + 1);
  }
  if (tried === 0) return 0;
  let given = 0;
  for (let exponent = SMALLEST_EXPONENT; exponent <= LARGEST_EXPONENT; exponent++) {
    given += needed.get(exponent) ?? 0;
    if (given >= tried * (1 - EXCEPTION_SHARE)) return exponent;
  }
  return null;
}

function givesBack(value: number, exponent: number): boolean {
  const integer = toInteger(value, exponent);
  return Math.abs(integer) <= LARGEST_INTEGER && fromInteger(integer, exponent) === value;
}

function toInteger(value: number, exponent: number): number {
  return Math.round(exponent >= 0 ? value * POWERS[exponent]! : value / POWERS[-exponent]!);
}

function fromInteger(integer: number, exponent: number): number {
  return exponent >= 0 ? integer / POWERS[exponent]! : integer * POWERS[-exponent]!;
}

function writeRaw(out: ByteWriter, values: Float64Array): void {
  const n = values.length;
  const words = new Uint32Array(Float64Array.from(values).buffer);
  const planes = out.reserve(8 * n);
  let lowBefore = 0;
  let highBefore = 0;
  for (let i = 0; i < n; i++) {
    const isNumber = !Number.isNaN(values[i]!);
    const low = isNumber ? words[2 * i]! : 0;
    const high = isNumber ? words[2 * i + 1]! : 0x7ff80000;
    const lowChange = low ^ lowBefore;
    const highChange = high ^ highBefore;
    for (let plane = 0; plane < 4; plane++) {
      planes[plane * n + i] = lowChange >>> (8 * plane);
      planes[(plane + 4) * n + i] = highChange >>> (8 * plane);
    }
    lowBefore = low;
    highBefore = high;
  }
}

function readRaw(from: ByteReader, n: number): Float64Array {
  const planes = from.take(8 * n);
  const values = new Float64Array(n);
  const words = new Uint32Array(values.buffer);
  let low = 0;
  let high = 0;
  for (let i = 0; i < n; i++) {
    for (let plane = 0; plane < 4; plane++) {
      low ^= planes[plane * n + i]! << (8 * plane);
      high ^= planes[(plane + 4) * n + i]! << (8 * plane);
    }
    words[2 * i] = low;
    words[2 * i + 1] = high;
  }
  return values;
}

function checkedCount(count: number, n: number): number {
  if (count > n) throw new DamagedBytes('a column has more exceptions than values');
  return count;
}
