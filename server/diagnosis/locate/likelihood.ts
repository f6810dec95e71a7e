/**
 * How well one hypothesis explains all readings together. Readings share the errors of the chart (a
 * wire that is longer than charted shows in each of them), so they are weighed as one vector: normal,
 * with the covariance that the chart's tolerances give to first order, plus the meter's own.
 */
import { LuDecomposition, Matrix } from 'ml-matrix';

/** What a hypothesis expects of one reading. */
export interface Expectation {
  /** SI; Infinity for over-range. */
  readonly value: number;
  /** Change for one standard deviation of each part's resistance, then of the battery, then of the fault's size. SI. */
  readonly moves: Float64Array;
}

export interface Reading {
  readonly value: number;
  readonly uncertainty: number;
  readonly quantity: 'voltage' | 'resistance';
}

export interface LikelihoodSetup {
  /** Chance that a reading is worth nothing. */
  readonly slip: number;
  /** Range that a worthless voltage may lie in, V. */
  readonly fullVolts: number;
  /** Chance of one wrong chart entry, its size in standard deviations of that part, and which parts are spans. */
  readonly chartError: number;
  readonly chartErrorDeviations: readonly { readonly part: number; readonly deviations: number }[];
}

/** What the model itself leaves out, part of a reading: never surer than this. */
const MODEL_SHARE = 0.002;
/** Over-range where a figure was expected, or the other way round. */
const OVER_RANGE_MISMATCH = 1e-5;
/** A worthless resistance may be anything over so many powers of e. */
const WORTHLESS_RANGE = 20;

/** Logarithm of the likelihood, and what is needed to expect the next reading given these. */
export interface Weighed {
  readonly logLikelihood: number;
  /** The readings that were compared as figures, and their inverse covariance and residuals. */
  readonly used: readonly number[];
  readonly weighted: Float64Array;
  readonly inverse: Matrix | null;
  /** For each reading: logarithm of the odds that it is worthless against good, given this hypothesis. */
  readonly slipOdds: Float64Array;
}

export function weigh(readings: readonly Reading[], expected: readonly Expectation[], setup: LikelihoodSetup): Weighed {
  let logLikelihood = 0;
  const used: number[] = [];
  const slipOdds = new Float64Array(readings.length).fill(-Infinity);
  const logSlip = Math.log(setup.slip / (1 - setup.slip));
  readings.forEach((reading, order) => {
    const expectation = expected[order] as Expectation;
    const [isOver, shouldBeOver] = [!Number.isFinite(reading.value), !Number.isFinite(expectation.value)];
    if (!isOver && !shouldBeOver) {
      used.push(order);
      return;
    }
    if (isOver !== shouldBeOver) {
      const density = isOver ? 1 : worthlessDensity(reading, setup);
      logLikelihood += Math.log(OVER_RANGE_MISMATCH * density);
      slipOdds[order] = logSlip - Math.log(OVER_RANGE_MISMATCH);
    }
  });
  const n = used.length;
  if (n === 0) return { logLikelihood, used, weighted: new Float64Array(0), inverse: null, slipOdds };

  const covariance = Matrix.zeros(n, n);
  const residual = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    const reading = readings[used[i] as number] as Reading;
    const own = expected[used[i] as number] as Expectation;
    residual[i] = reading.value - own.value;
    for (let j = 0; j <= i; j++) {
      let sum = dot(own.moves, (expected[used[j] as number] as Expectation).moves);
      if (i === j) sum += reading.uncertainty ** 2 + (MODEL_SHARE * own.value) ** 2;
      covariance.set(i, j, sum);
      covariance.set(j, i, sum);
    }
  }
  const decomposition = new LuDecomposition(covariance);
  const inverse = decomposition.solve(Matrix.eye(n, n));
  const weighted = new Float64Array(n);
  for (let i = 0; i < n; i++) for (let j = 0; j < n; j++) weighted[i] = (weighted[i] as number) + inverse.get(i, j) * (residual[j] as number);
  let squared = 0;
  for (let i = 0; i < n; i++) squared += (residual[i] as number) * (weighted[i] as number);
  const plain = -0.5 * (squared + logDeterminant(decomposition, n) + n * Math.log(2 * Math.PI));

  const ways: number[] = [plain + Math.log(1 - setup.chartError) + n * Math.log(1 - setup.slip)];
  // One chart entry quite wrong: a rank-one growth of the covariance (Sherman-Morrison, matrix determinant lemma).
  const errors = setup.chartErrorDeviations;
  for (const { part, deviations } of errors) {
    const move = Float64Array.from(used, (order) => deviations * ((expected[order] as Expectation).moves[part] as number));
    let q = 0;
    let t = 0;
    for (let i = 0; i < n; i++) {
      let row = 0;
      for (let j = 0; j < n; j++) row += inverse.get(i, j) * (move[j] as number);
      q += (move[i] as number) * row;
      t += (move[i] as number) * (weighted[i] as number);
    }
    ways.push(plain - 0.5 * Math.log(1 + q) + (0.5 * t * t) / (1 + q) + Math.log(setup.chartError / errors.length) + n * Math.log(1 - setup.slip));
  }
  const good = logSum(ways);
  // One reading worthless: leave it out; its density given the others follows from the inverse covariance.
  const withSlip = [good];
  for (let i = 0; i < n; i++) {
    const precision = inverse.get(i, i);
    const given = -0.5 * ((weighted[i] as number) ** 2 / precision - Math.log(precision) + Math.log(2 * Math.PI));
    const odds = logSlip + Math.log(worthlessDensity(readings[used[i] as number] as Reading, setup)) - given;
    slipOdds[used[i] as number] = odds;
    withSlip.push((ways[0] as number) + odds);
  }
  return { logLikelihood: logLikelihood + logSum(withSlip), used, weighted, inverse, slipOdds };
}

/** What the next reading should be, and its standard deviation without the meter's own, given the readings weighed. */
export function expectNext(next: Expectation, expected: readonly Expectation[], weighed: Weighed): { value: number; deviation: number } {
  if (!Number.isFinite(next.value)) return { value: Infinity, deviation: 0 };
  let value = next.value;
  let variance = dot(next.moves, next.moves) + (MODEL_SHARE * next.value) ** 2;
  const { used, inverse, weighted } = weighed;
  if (inverse !== null) {
    const shared = Float64Array.from(used, (order) => dot(next.moves, (expected[order] as Expectation).moves));
    for (let i = 0; i < used.length; i++) {
      value += (shared[i] as number) * (weighted[i] as number);
      for (let j = 0; j < used.length; j++) variance -= (shared[i] as number) * inverse.get(i, j) * (shared[j] as number);
    }
  }
  return { value, deviation: Math.sqrt(Math.max(variance, 0)) };
}

/** log(sum(exp(values))) without overflow. */
export function logSum(values: readonly number[]): number {
  const most = Math.max(...values);
  if (most === -Infinity) return -Infinity;
  let sum = 0;
  for (const value of values) sum += Math.exp(value - most);
  return most + Math.log(sum);
}

function worthlessDensity(reading: Reading, setup: LikelihoodSetup): number {
  return reading.quantity === 'voltage' ? 1 / setup.fullVolts : 1 / (WORTHLESS_RANGE * Math.max(Math.abs(reading.value), 0.1));
}

function logDeterminant(decomposition: LuDecomposition, n: number): number {
  const upper = decomposition.upperTriangularMatrix;
  let sum = 0;
  for (let i = 0; i < n; i++) sum += Math.log(Math.abs(upper.get(i, i)));
  return sum;
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += (a[i] as number) * (b[i] as number);
  return sum;
}
