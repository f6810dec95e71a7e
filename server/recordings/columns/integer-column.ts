/**
 * A column of whole numbers: how it is foretold, and what remains. The cheapest of all predictions is kept, and what remains
 * is left out when it is nothing, entropy-coded, or for short even columns packed at a fixed width.
 */
import { type ByteReader, type ByteWriter, DamagedBytes } from './bytes.ts';
import { entropyCost, readEntropy, writeEntropy } from './entropy.ts';
import { predict, type Prediction, PREDICTIONS, type Start, startOf } from './prediction.ts';

/** Numbers up to this size survive two differences and the zigzag exactly. */
export const LARGEST_INTEGER = 2 ** 49;

const LARGEST_REMAINS_BITS = 52;

const FORMS = ['nothing', 'entropy', 'fixed'] as const;

/** Predictions are compared on a stretch of this many numbers, by how they do in its second half: an adaptive one has to learn first. */
const TRIED = 8192;
/** The adaptive prediction takes six times as long to read as any other: it is used where it makes the column this much smaller. */
const ADAPTIVE_PAYS = 0.96;

/** @param values whole numbers of at most `LARGEST_INTEGER` in size */
export function writeIntegers(out: ByteWriter, values: Float64Array): void {
  const { prediction, start, remains } = cheapest(values);
  const width = bitWidth(remains);
  const form = width === 0 ? 'nothing' : entropyCost(remains) < remains.length * width ? 'entropy' : 'fixed';
  out.byte(PREDICTIONS.indexOf(prediction) * 4 + FORMS.indexOf(form));
  out.signed(start.first);
  out.signed(start.step);
  if (form === 'entropy') writeEntropy(out, remains);
  if (form === 'fixed') writeFixed(out, remains, width);
}

interface Foretold {
  readonly prediction: Prediction;
  readonly start: Start;
  readonly remains: Float64Array;
}

function cheapest(values: Float64Array): Foretold {
  const middle = Math.max(0, (values.length - TRIED) >> 1);
  const tried = values.subarray(middle, middle + TRIED);
  const costs = PREDICTIONS.map((prediction) => {
    const cost = costOf(foretell(tried, prediction).remains.subarray(tried.length >> 1));
    return { prediction, cost: prediction === 'adaptive' ? cost / ADAPTIVE_PAYS : cost };
  });
  costs.sort((a, b) => a.cost - b.cost);
  for (const { prediction } of costs) {
    const foretold = foretell(values, prediction);
    // A filter gone wild would lose digits: the next best, then.
    if (bitWidth(foretold.remains) <= LARGEST_REMAINS_BITS) return foretold;
  }
  throw new RangeError('a column holds numbers that are too large to store');
}

function foretell(values: Float64Array, prediction: Prediction): Foretold {
  const start = startOf(values, prediction);
  const remains = new Float64Array(values.length);
  predict('write', prediction, start, values, remains);
  return { prediction, start, remains };
}

function costOf(remains: Float64Array): number {
  const width = bitWidth(remains);
  return width > LARGEST_REMAINS_BITS ? Infinity : Math.min(entropyCost(remains), remains.length * width);
}

export function readIntegers(from: ByteReader, n: number): Float64Array {
  const head = from.byte();
  const prediction = PREDICTIONS[head >> 2];
  const form = FORMS[head & 3];
  if (prediction === undefined || form === undefined) throw new DamagedBytes('a column of whole numbers has an unknown form');
  const start = { first: from.signed(), step: from.signed() };
  const remains = form === 'nothing' ? new Float64Array(n) : form === 'entropy' ? readEntropy(from, n) : readFixed(from, n);
  predict('read', prediction, start, remains, remains);
  return remains;
}

/** Bits of the largest number. */
function bitWidth(numbers: Float64Array): number {
  let largest = 0;
  for (let i = 0; i < numbers.length; i++) if (numbers[i]! > largest) largest = numbers[i]!;
  let width = 0;
  for (let limit = 1; limit <= largest; limit *= 2) width++;
  return width;
}

function writeFixed(out: ByteWriter, numbers: Float64Array, width: number): void {
  out.byte(width);
  const room = out.reserve(Math.ceil((numbers.length * width) / 8));
  let bit = 0;
  for (const number of numbers) {
    let rest = number;
    for (let i = 0; i < width; i++, bit++) {
      if (rest % 2 === 1) room[bit >> 3]! |= 1 << (bit & 7);
      rest = Math.floor(rest / 2);
    }
  }
}

function readFixed(from: ByteReader, n: number): Float64Array {
  const width = from.byte();
  if (width > 53) throw new DamagedBytes('a column is too wide');
  const bytes = from.take(Math.ceil((n * width) / 8));
  const numbers = new Float64Array(n);
  let bit = 0;
  for (let i = 0; i < n; i++) {
    let number = 0;
    for (let k = 0, scale = 1; k < width; k++, bit++, scale *= 2) if (((bytes[bit >> 3]! >> (bit & 7)) & 1) === 1) number += scale;
    numbers[i] = number;
  }
  return numbers;
}
