/**
 * Whole numbers as differences from a prediction. Of four predictions the cheapest is kept: none, the number
 * before, the straight line through the two before, or the running mean, each beginning at the column's first
 * number (and first step). What is left is zigzag-coded and written in byte planes (all lowest bytes, then all second bytes ...), which a general compressor packs well.
 */
import { type ByteReader, type ByteWriter, DamagedBytes } from './bytes.ts';

/** Numbers up to this size survive two differences and the zigzag exactly. */
export const LARGEST_INTEGER = 2 ** 49;

const PREDICTIONS = ['none', 'last', 'line', 'mean'] as const;
type Prediction = (typeof PREDICTIONS)[number];
/** Share of a new number in the running mean; a power of two. */
const MEAN_SHARE = 1 / 16;

let scratch = new Float64Array(0);
let cheapest = new Float64Array(0);

/** @param values whole numbers of at most `LARGEST_INTEGER` in size */
export function writeIntegers(out: ByteWriter, values: Float64Array): void {
  const n = values.length;
  const start = startOf(values);
  if (scratch.length < n) {
    scratch = new Float64Array(n);
    cheapest = new Float64Array(n);
  }
  let best: Prediction = 'none';
  let bestCost = Infinity;
  for (const prediction of PREDICTIONS) {
    const cost = residuals(values, prediction, start, scratch);
    if (cost < bestCost) {
      [best, bestCost] = [prediction, cost];
      [scratch, cheapest] = [cheapest, scratch];
    }
  }
  let largest = 0;
  for (let i = 0; i < n; i++) if (cheapest[i]! > largest) largest = cheapest[i]!;
  let planes = 0;
  for (let limit = 1; limit <= largest; limit *= 256) planes++;
  out.byte(PREDICTIONS.indexOf(best));
  out.double(start.first);
  out.double(start.step);
  out.byte(planes);
  const low = out.reserve(planes * n);
  // Two numbers of up to 32 bits each are faster to cut up than one of 52.
  for (let i = 0; i < n; i++) {
    const zigzag = cheapest[i]!;
    let word = zigzag % 4294967296 >>> 0;
    for (let plane = 0; plane < planes; plane++) {
      if (plane === 4) word = Math.floor(zigzag / 4294967296) >>> 0;
      low[plane * n + i] = word & 255;
      word >>>= 8;
    }
  }
}

export function readIntegers(from: ByteReader, n: number): Float64Array {
  const prediction = PREDICTIONS[from.byte()];
  const start = { first: from.double(), step: from.double() };
  const planes = from.byte();
  if (prediction === undefined || planes > 7) throw new DamagedBytes('a column of whole numbers has an unknown form');
  const bytes = from.take(planes * n);
  const values = new Float64Array(n);
  for (let plane = planes - 1; plane >= 0; plane--) {
    const base = plane * n;
    for (let i = 0; i < n; i++) values[i] = values[i]! * 256 + bytes[base + i]!;
  }
  restore(values, prediction, start);
  return values;
}

interface Start {
  readonly first: number;
  readonly step: number;
}

function startOf(values: Float64Array): Start {
  const first = values[0] ?? 0;
  return { first, step: (values[1] ?? first) - first };
}

/** Fills `out` with zigzagged residuals; the sum of their bit lengths is the cost by which predictions compare. */
function residuals(values: Float64Array, prediction: Prediction, start: Start, out: Float64Array): number {
  const n = values.length;
  let bits = 0;
  let last = prediction === 'line' ? start.first - start.step : start.first;
  let step = start.step;
  let mean = start.first;
  for (let i = 0; i < n; i++) {
    const value = values[i]!;
    let predicted: number;
    switch (prediction) {
      case 'none': predicted = start.first; break;
      case 'last': predicted = last; break;
      case 'line': predicted = last + step; break;
      case 'mean': predicted = Math.round(mean); break;
    }
    const residual = value - predicted;
    step = value - last;
    last = value;
    mean += (value - mean) * MEAN_SHARE;
    const zigzag = residual >= 0 ? 2 * residual : -2 * residual - 1;
    out[i] = zigzag;
    bits += zigzag < 4294967296 ? 32 - Math.clz32(zigzag) : 32 + 32 - Math.clz32(zigzag / 4294967296);
  }
  return bits;
}

function restore(values: Float64Array, prediction: Prediction, start: Start): void {
  const n = values.length;
  let last = prediction === 'line' ? start.first - start.step : start.first;
  let step = start.step;
  let mean = start.first;
  for (let i = 0; i < n; i++) {
    const zigzag = values[i]!;
    const residual = zigzag % 2 === 0 ? zigzag / 2 : -(zigzag + 1) / 2;
    let value: number;
    switch (prediction) {
      case 'none': value = start.first + residual; break;
      case 'last': value = last + residual; break;
      case 'line': value = last + step + residual; break;
      case 'mean': value = Math.round(mean) + residual; break;
    }
    step = value - last;
    last = value;
    mean += (value - mean) * MEAN_SHARE;
    values[i] = value;
  }
}
