/**
 * Whole numbers in as few bits as their distribution allows. A number is split into a token (its size: exact below 32,
 * then sixteen steps an octave) and the bits below; the tokens are coded by range asymmetric numeral systems (J. Duda,
 * "Asymmetric numeral systems", arXiv:1311.2540, 2013) with a table of their frequencies, the bits below stand as they are.
 *
 *   state x:  coding a token of frequency f that begins at slot s:  x -> floor(x / f) 2^P + x mod f + s,
 *             in 16-bit steps so that 2^16 <= x < 2^32; decoding runs backwards, so coding starts at the last token.
 */
import { type ByteReader, type ByteWriter, DamagedBytes } from './bytes.ts';

/** Numbers below this are their own token. */
const EXACT = 32;
const EXACT_BITS = 5;
/** An octave above has 2^4 tokens. */
const STEP_BITS = 4;
/** Tokens of numbers below 2^53. */
export const TOKENS = EXACT + (53 - EXACT_BITS) * 2 ** STEP_BITS;

/** Frequencies add up to 2^P: finer for longer columns. */
const LARGEST_SCALE_BITS = 14;
const LOWEST_STATE = 65536;

/** Size class of a whole number from 0 to 2^53. */
export function tokenOf(number: number): number {
  if (number < EXACT) return number;
  if (number < 2147483648) {
    const exponent = 31 - Math.clz32(number);
    return EXACT + ((exponent - EXACT_BITS) << STEP_BITS) + ((number >>> (exponent - STEP_BITS)) & 15);
  }
  const exponent = number < 4294967296 ? 31 : 63 - Math.clz32(number / 4294967296);
  return EXACT + ((exponent - EXACT_BITS) << STEP_BITS) + (Math.floor(number / 2 ** (exponent - STEP_BITS)) & 15);
}

/** Bits that follow each token. */
const BITS_BELOW = Uint8Array.from({ length: TOKENS }, (_, token) => (token < EXACT ? 0 : ((token - EXACT) >> STEP_BITS) + EXACT_BITS - STEP_BITS));
/** The smallest number of each token. */
const NUMBER_OF = Float64Array.from({ length: TOKENS }, (_, token) => (token < EXACT ? token : (16 + ((token - EXACT) & 15)) * 2 ** BITS_BELOW[token]!));

const histogram = new Uint32Array(TOKENS);

/** Bits that `writeEntropy` will take for these numbers, nearly. @param numbers from 0 to 2^53 */
export function entropyCost(numbers: Float64Array): number {
  const n = numbers.length;
  histogram.fill(0);
  let below = 0;
  let largest = 0;
  for (let i = 0; i < n; i++) {
    const token = tokenOf(numbers[i]!);
    histogram[token]!++;
    if (token > largest) largest = token;
  }
  let bits = 0;
  for (let token = 0; token <= largest; token++) {
    const count = histogram[token]!;
    if (count === 0) continue;
    below += count * BITS_BELOW[token]!;
    bits += 20 + count * Math.log2(n / count);
  }
  return bits + below;
}

export function writeEntropy(out: ByteWriter, numbers: Float64Array): void {
  const n = numbers.length;
  if (n === 0) return;
  const tokens = new Uint16Array(n);
  const counts = new Uint32Array(TOKENS);
  for (let i = 0; i < n; i++) {
    const token = tokenOf(numbers[i]!);
    tokens[i] = token;
    counts[token]!++;
  }
  const scaleBits = Math.min(LARGEST_SCALE_BITS, Math.max(10, 34 - Math.clz32(n)));
  const frequencies = scaled(counts, n, 2 ** scaleBits);
  writeTable(out, frequencies, scaleBits);
  writeTokens(out, tokens, frequencies, scaleBits);
  writeBelow(out, numbers, tokens);
}

export function readEntropy(from: ByteReader, n: number): Float64Array {
  const numbers = new Float64Array(n);
  if (n === 0) return numbers;
  const tokens = readTokens(from, n, readTable(from));
  readBelow(from, tokens, numbers);
  return numbers;
}

/** Frequencies that add up to `total`, at least 1 for every token that occurs. */
function scaled(counts: Uint32Array, n: number, total: number): Uint32Array {
  const frequencies = new Uint32Array(TOKENS);
  let sum = 0;
  for (let token = 0; token < TOKENS; token++) {
    const count = counts[token]!;
    if (count === 0) continue;
    frequencies[token] = Math.max(1, Math.round((count * total) / n));
    sum += frequencies[token]!;
  }
  // What rounding gave too much or too little is taken from, or given to, the most frequent tokens.
  while (sum !== total) {
    let most = 0;
    for (let token = 1; token < TOKENS; token++) if (frequencies[token]! > frequencies[most]!) most = token;
    const change = sum < total ? total - sum : -Math.min(sum - total, Math.ceil(frequencies[most]! / 8), frequencies[most]! - 1);
    frequencies[most]! += change;
    sum += change;
  }
  return frequencies;
}

function writeTable(out: ByteWriter, frequencies: Uint32Array, scaleBits: number): void {
  out.byte(scaleBits);
  const used = [...frequencies.keys()].filter((token) => frequencies[token]! > 0);
  out.count(used.length);
  let before = -1;
  for (const token of used) {
    out.count(token - before - 1);
    out.count(frequencies[token]!);
    before = token;
  }
}

interface Table {
  readonly scaleBits: number;
  readonly frequencies: Uint32Array;
  readonly starts: Uint32Array;
  /** Token of every slot. */
  readonly slots: Uint16Array;
}

function readTable(from: ByteReader): Table {
  const scaleBits = from.byte();
  if (scaleBits > LARGEST_SCALE_BITS) throw new DamagedBytes('a table of frequencies has an unknown scale');
  const total = 2 ** scaleBits;
  const table = { scaleBits, frequencies: new Uint32Array(TOKENS), starts: new Uint32Array(TOKENS), slots: new Uint16Array(total) };
  let token = -1;
  let start = 0;
  for (let left = from.count(); left > 0; left--) {
    token += 1 + from.count();
    const frequency = from.count();
    if (token >= TOKENS) throw new DamagedBytes('a table of frequencies names an unknown token');
    if (start + frequency > total) throw new DamagedBytes('a table of frequencies adds up to too much');
    table.frequencies[token] = frequency;
    table.starts[token] = start;
    for (let slot = start; slot < start + frequency; slot++) table.slots[slot] = token;
    start += frequency;
  }
  if (start !== total) throw new DamagedBytes('a table of frequencies does not add up');
  return table;
}

function startsOf(frequencies: Uint32Array): Uint32Array {
  const starts = new Uint32Array(TOKENS);
  let start = 0;
  for (let token = 0; token < TOKENS; token++) {
    starts[token] = start;
    start += frequencies[token]!;
  }
  return starts;
}

function writeTokens(out: ByteWriter, tokens: Uint16Array, frequencies: Uint32Array, scaleBits: number): void {
  const starts = startsOf(frequencies);
  const total = 2 ** scaleBits;
  const limit = (LOWEST_STATE / total) * 65536;
  const words = new Uint16Array(tokens.length + 2);
  let at = words.length;
  let state = LOWEST_STATE;
  for (let i = tokens.length - 1; i >= 0; i--) {
    const token = tokens[i]!;
    const frequency = frequencies[token]!;
    if (state >= limit * frequency) {
      words[--at] = state & 65535;
      state = Math.floor(state / 65536);
    }
    const quotient = Math.floor(state / frequency);
    state = quotient * total + (state - quotient * frequency) + starts[token]!;
  }
  words[--at] = state & 65535;
  words[--at] = Math.floor(state / 65536);
  const used = words.subarray(at);
  out.count(used.length);
  const room = out.reserve(2 * used.length);
  for (let i = 0; i < used.length; i++) {
    room[2 * i] = used[i]! & 255;
    room[2 * i + 1] = used[i]! >>> 8;
  }
}

function readTokens(from: ByteReader, n: number, { frequencies, starts, slots, scaleBits }: Table): Uint16Array {
  const length = from.count();
  if (length < 2 || length > n + 2) throw new DamagedBytes('a column has too many or too few words');
  const bytes = from.take(2 * length);
  const mask = slots.length - 1;
  const tokens = new Uint16Array(n);
  let at = 4;
  let state = ((bytes[0]! | (bytes[1]! << 8)) * 65536 + (bytes[2]! | (bytes[3]! << 8))) >>> 0;
  for (let i = 0; i < n; i++) {
    const slot = state & mask;
    const token = slots[slot]!;
    tokens[i] = token;
    state = frequencies[token]! * (state >>> scaleBits) + slot - starts[token]!;
    if (state < LOWEST_STATE) {
      if (at >= bytes.length) throw new DamagedBytes('a column ends too early');
      state = state * 65536 + (bytes[at]! | (bytes[at + 1]! << 8));
      at += 2;
    }
  }
  if (at !== bytes.length || state !== LOWEST_STATE) throw new DamagedBytes('a column does not end where it should');
  return tokens;
}

/** The bits below the tokens, packed one after the other, lowest first. */
function writeBelow(out: ByteWriter, numbers: Float64Array, tokens: Uint16Array): void {
  let total = 0;
  for (let i = 0; i < tokens.length; i++) total += BITS_BELOW[tokens[i]!]!;
  const room = out.reserve(Math.ceil(total / 8));
  let at = 0;
  let held = 0;
  let heldBits = 0;
  for (let i = 0; i < tokens.length; i++) {
    let bits = BITS_BELOW[tokens[i]!]!;
    let rest = numbers[i]! - NUMBER_OF[tokens[i]!]!;
    while (bits > 0) {
      // Sixteen at a time, so that what is held stays a 32-bit number.
      const now = Math.min(bits, 16);
      const part = rest % 65536 & ((1 << now) - 1);
      held |= part << heldBits;
      heldBits += now;
      rest = Math.floor(rest / 2 ** now);
      bits -= now;
      while (heldBits >= 8) {
        room[at++] = held & 255;
        held >>>= 8;
        heldBits -= 8;
      }
    }
  }
  if (heldBits > 0) room[at] = held;
}

function readBelow(from: ByteReader, tokens: Uint16Array, numbers: Float64Array): void {
  let total = 0;
  for (let i = 0; i < tokens.length; i++) total += BITS_BELOW[tokens[i]!]!;
  const bytes = from.take(Math.ceil(total / 8));
  let at = 0;
  let held = 0;
  let heldBits = 0;
  for (let i = 0; i < tokens.length; i++) {
    const token = tokens[i]!;
    let bits = BITS_BELOW[token]!;
    if (bits <= 16) {
      while (heldBits < bits) {
        held |= bytes[at++]! << heldBits;
        heldBits += 8;
      }
      numbers[i] = NUMBER_OF[token]! + (held & ((1 << bits) - 1));
      held >>>= bits;
      heldBits -= bits;
      continue;
    }
    let number = NUMBER_OF[token]!;
    for (let scale = 1; bits > 0;) {
      const now = Math.min(bits, 16);
      while (heldBits < now) {
        held |= bytes[at++]! << heldBits;
        heldBits += 8;
      }
      number += (held & ((1 << now) - 1)) * scale;
      held >>>= now;
      heldBits -= now;
      scale *= 2 ** now;
      bits -= now;
    }
    numbers[i] = number;
  }
}
