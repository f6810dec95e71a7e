/**
 * Ways to foretell the next number of a column from those before it. What remains is small where the way fits: a grid of
 * times is a line, a quiet reading a mean, a ripple something that an adaptive filter learns. Every way runs the same when
 * writing and when reading, on IEEE 754 additions, multiplications and divisions only, so that every machine agrees.
 *
 *   least     the smallest number of the column (what remains is never negative)
 *   middle    the median of the column
 *   last      the number before
 *   line      the straight line through the two before
 *   mean      the running mean
 *   adaptive  a linear combination of the sixteen before, its weights following the error (normalised least mean squares)
 */
export const PREDICTIONS = ['least', 'middle', 'last', 'line', 'mean', 'adaptive'] as const;
export type Prediction = (typeof PREDICTIONS)[number];

/** What a prediction starts from; whole numbers. */
export interface Start {
  readonly first: number;
  readonly step: number;
}

export function startOf(values: Float64Array, prediction: Prediction): Start {
  const first = values[0] ?? 0;
  switch (prediction) {
    case 'least': {
      let least = first;
      for (let i = 1; i < values.length; i++) if (values[i]! < least) least = values[i]!;
      return { first: least, step: 0 };
    }
    case 'middle': return { first: median(values), step: 0 };
    case 'line': return { first, step: (values[1] ?? first) - first };
    case 'mean':
    case 'adaptive': return { first: median(values), step: 0 };
    case 'last': return { first, step: 0 };
  }
}

/** Exact for short columns, of an even spread of 512 numbers for long ones: only a starting point. */
function median(values: Float64Array): number {
  if (values.length === 0) return 0;
  const stride = Math.max(1, Math.floor(values.length / 512));
  const some = Float64Array.from({ length: Math.floor(values.length / stride) }, (_, i) => values[i * stride]!).sort();
  return some[some.length >> 1]!;
}

/**
 * Turns numbers into what remains of them, or back: one loop for both, so that they can't disagree.
 * @param direction 'write': `input` holds numbers, `output` gets zigzagged remains; 'read': the other way round
 */
export function predict(direction: 'write' | 'read', prediction: Prediction, start: Start, input: Float64Array, output: Float64Array): void {
  switch (prediction) {
    case 'least': return fromLeast(direction, start.first, input, output);
    case 'middle': return fromMiddle(direction, start.first, input, output);
    case 'last': return fromLast(direction, start.first, input, output);
    case 'line': return fromLine(direction, start, input, output);
    case 'mean': return fromMean(direction, start.first, input, output);
    case 'adaptive': return adaptively(direction, start.first, input, output);
  }
}

function fromLeast(direction: 'write' | 'read', least: number, input: Float64Array, output: Float64Array): void {
  const offset = direction === 'write' ? -least : least;
  for (let i = 0; i < input.length; i++) output[i] = input[i]! + offset;
}

function fromMiddle(direction: 'write' | 'read', middle: number, input: Float64Array, output: Float64Array): void {
  if (direction === 'write') for (let i = 0; i < input.length; i++) output[i] = zigzag(input[i]! - middle);
  else for (let i = 0; i < input.length; i++) output[i] = middle + unzigzag(input[i]!);
}

function fromLast(direction: 'write' | 'read', first: number, input: Float64Array, output: Float64Array): void {
  let last = first;
  for (let i = 0; i < input.length; i++) {
    const given = input[i]!;
    const value = direction === 'write' ? given : last + unzigzag(given);
    output[i] = direction === 'write' ? zigzag(given - last) : value;
    last = value;
  }
}

function fromLine(direction: 'write' | 'read', start: Start, input: Float64Array, output: Float64Array): void {
  let last = start.first - start.step;
  let step = start.step;
  for (let i = 0; i < input.length; i++) {
    const given = input[i]!;
    const foretold = last + step;
    const value = direction === 'write' ? given : foretold + unzigzag(given);
    output[i] = direction === 'write' ? zigzag(given - foretold) : value;
    step = value - last;
    last = value;
  }
}

/** Share of a new number in the running mean; a power of two. */
const MEAN_SHARE = 1 / 32;

function fromMean(direction: 'write' | 'read', first: number, input: Float64Array, output: Float64Array): void {
  let mean = first;
  let spread = 1;
  for (let i = 0; i < input.length; i++) {
    const given = input[i]!;
    const foretold = Math.round(mean);
    const value = direction === 'write' ? given : foretold + unzigzag(given);
    output[i] = direction === 'write' ? zigzag(given - foretold) : value;
    const error = value - mean;
    const size = error < 0 ? -error : error;
    // A dropout must not drag the mean along.
    const held = 4 * spread;
    mean += (error > held ? held : error < -held ? -held : error) * MEAN_SHARE;
    spread += (size > 8 * spread ? 7 * spread : size - spread) * MEAN_SHARE;
    if (spread < 0.5) spread = 0.5;
  }
}

const ORDER = 16;
const LEARNING = 1 / 128;

function adaptively(direction: 'write' | 'read', first: number, input: Float64Array, output: Float64Array): void {
  const isWriting = direction === 'write';
  // The history stands twice in a row, so that the sixteen before are always one stretch.
  const history = new Float64Array(2 * ORDER);
  const weights = new Float64Array(ORDER);
  let at = 0;
  let mean = first;
  let spread = 1;
  let power = 0;
  for (let i = 0; i < input.length; i++) {
    let sum = 0;
    for (let k = 0; k < ORDER; k++) sum += weights[k]! * history[at + k]!;
    const foretold = Math.round(mean + sum);
    const given = input[i]!;
    const value = isWriting ? given : foretold + unzigzag(given);
    output[i] = isWriting ? zigzag(given - foretold) : value;

    const error = value - mean - sum;
    const size = error < 0 ? -error : error;
    const held = 4 * spread;
    const heldError = error > held ? held : error < -held ? -held : error;
    spread += (size > 8 * spread ? 7 * spread : size - spread) * MEAN_SHARE;
    if (spread < 0.5) spread = 0.5;
    const gain = (LEARNING * heldError) / (power / ORDER + spread);
    for (let k = 0; k < ORDER; k++) weights[k]! += (gain * history[at + k]!) / ORDER;

    let fresh = value - mean;
    const limit = 64 * spread;
    fresh = fresh > limit ? limit : fresh < -limit ? -limit : fresh;
    const oldest = history[at + ORDER - 1]!;
    power += fresh * fresh - oldest * oldest;
    if (power < 0) power = 0;
    at = at === 0 ? ORDER - 1 : at - 1;
    history[at] = fresh;
    history[at + ORDER] = fresh;
    mean += heldError * (MEAN_SHARE / 4);
  }
}

/** 0, -1, 1, -2, 2 ... as 0, 1, 2, 3, 4 ... */
function zigzag(value: number): number {
  return value >= 0 ? 2 * value : -2 * value - 1;
}

function unzigzag(value: number): number {
  // Not by remainder: that of doubles is slow.
  const half = Math.floor(value / 2);
  return 2 * half === value ? half : -half - 1;
}
