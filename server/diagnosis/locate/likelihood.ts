/**
 * How well one hypothesis explains all readings together. Readings share the errors of the chart (a
 * wire that is longer than charted shows in each of them), so they are weighed as one vector: normal,
 * with the covariance that the chart's tolerances give to first order, plus the meter's own. The
 * inverse covariance grows by one row with each reading (bordering), so nothing is solved anew.
 */

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
  /** How often it was read alike before. */
  readonly repeats?: number;
}

export interface LikelihoodSetup {
  /** Chance that a reading is worth nothing. */
  readonly slip: number;
  /** Range that a worthless voltage may lie in, V. */
  readonly fullVolts: number;
  /** Chance of one wrong chart entry, and its size in standard deviations of each part that is a span. */
  readonly chartError: number;
  readonly chartErrorDeviations: readonly { readonly part: number; readonly deviations: number }[];
}

/** What the model itself leaves out, part of a reading: never surer than this. */
const MODEL_SHARE = 0.002;
/** Over-range where a figure was expected, or the other way round. */
const OVER_RANGE_MISMATCH = 1e-5;
/** A worthless resistance may be anything over so many powers of e. */
const WORTHLESS_RANGE = 20;

/** The readings so far, weighed by one hypothesis. */
export class Evidence {
  readonly #setup: LikelihoodSetup;
  /** Readings compared as figures. */
  readonly #moves: Float64Array[] = [];
  readonly #residuals: number[] = [];
  readonly #worthless: number[] = [];
  /** Chance of each to be worth nothing, before it is compared with the others. */
  readonly #slips: number[] = [];
  readonly #order: number[] = [];
  /** Logarithm of the odds of each reading being worthless against all being sound. */
  readonly #slipOdds: number[] = [];
  readonly #slipChances: number[] = [];
  #inverse = new Float64Array(0);
  /** Of as many readings as it has places; see `#weightedNow`. */
  #weighted = new Float64Array(0);
  #logDeterminant = 0;
  #overRange = 0;
  #logLikelihood = 0;
  #isWeighed = true;

  constructor(setup: LikelihoodSetup) {
    this.#setup = setup;
  }

  /** Logarithm of the likelihood of all readings. */
  get logLikelihood(): number {
    this.#weigh();
    return this.#logLikelihood;
  }

  /** Chance that a reading is worth nothing, given this hypothesis: against all being sound, and against any other being the one. */
  slipChance(reading: number): number {
    this.#weigh();
    return this.#slipChances[reading] ?? 0;
  }

  /** How much better the others go together without this reading, from 0 to 1. Beside one that is quite wrong, all that contradict it have much. */
  misfit(reading: number): number {
    this.#weigh();
    const odds = Math.exp(Math.min(50, this.#slipOdds[reading] ?? -Infinity));
    return odds / (1 + odds);
  }

  /** A reading that repeats an earlier one. */
  skip(): void {
    this.#slipOdds.push(-Infinity);
    this.#slipChances.push(0);
  }

  add(reading: Reading, expected: Expectation): void {
    const order = this.#slipOdds.push(-Infinity) - 1;
    this.#slipChances.push(0);
    const [isOver, shouldBeOver] = [!Number.isFinite(reading.value), !Number.isFinite(expected.value)];
    const slip = this.#setup.slip ** (1 + (reading.repeats ?? 0));
    const worthless = logWorthless(reading, this.#setup);
    if (isOver || shouldBeOver) {
      if (isOver !== shouldBeOver) {
        this.#overRange += Math.log(OVER_RANGE_MISMATCH) + (isOver ? 0 : worthless);
        this.#slipOdds[order] = Math.log(slip / OVER_RANGE_MISMATCH);
        this.#slipChances[order] = slip / (slip + OVER_RANGE_MISMATCH);
      }
      this.#isWeighed = false;
      return;
    }
    this.#grow(expected, reading.uncertainty ** 2 + (MODEL_SHARE * expected.value) ** 2, reading.value - expected.value);
    this.#worthless.push(worthless);
    this.#slips.push(slip);
    this.#order.push(order);
    this.#isWeighed = false;
  }

  /** What another reading should be, and its standard deviation without the meter's own, given these. */
  expectNext(next: Expectation): { value: number; deviation: number } {
    if (!Number.isFinite(next.value)) return { value: Infinity, deviation: 0 };
    const n = this.#moves.length;
    let value = next.value;
    let variance = dot(next.moves, next.moves) + (MODEL_SHARE * next.value) ** 2;
    if (n === 0) return { value, deviation: Math.sqrt(variance) };
    const shared = new Float64Array(n);
    for (let i = 0; i < n; i++) shared[i] = dot(next.moves, this.#moves[i] as Float64Array);
    const weighted = this.#weightedNow();
    for (let i = 0; i < n; i++) {
      value += (shared[i] as number) * (weighted[i] as number);
      for (let j = 0; j < n; j++) variance -= (shared[i] as number) * (this.#inverse[i * n + j] as number) * (shared[j] as number);
    }
    return { value, deviation: Math.sqrt(Math.max(variance, 0)) };
  }

  /** What the readings say of one of the moves (a part's resistance, the fault's size), in its standard deviations. */
  ofMove(move: number): { mean: number; variance: number } {
    const n = this.#moves.length;
    let [mean, variance] = [0, 1];
    const weighted = this.#weightedNow();
    for (let i = 0; i < n; i++) {
      const own = (this.#moves[i] as Float64Array)[move] as number;
      mean += own * (weighted[i] as number);
      for (let j = 0; j < n; j++) variance -= own * (this.#inverse[i * n + j] as number) * ((this.#moves[j] as Float64Array)[move] as number);
    }
    return { mean, variance: Math.max(variance, 0) };
  }

  /** Borders the inverse covariance with one more reading. */
  #grow(expected: Expectation, variance: number, residual: number): void {
    const n = this.#moves.length;
    const inverse = this.#inverse;
    const shared = new Float64Array(n);
    for (let i = 0; i < n; i++) shared[i] = dot(expected.moves, this.#moves[i] as Float64Array);
    const through = new Float64Array(n);
    let schur = dot(expected.moves, expected.moves) + variance;
    for (let i = 0; i < n; i++) {
      let sum = 0;
      for (let j = 0; j < n; j++) sum += (inverse[i * n + j] as number) * (shared[j] as number);
      through[i] = sum;
      schur -= sum * (shared[i] as number);
    }
    schur = Math.max(schur, 0.5 * variance);
    const size = n + 1;
    const grown = new Float64Array(size * size);
    for (let i = 0; i < n; i++) {
      for (let j = 0; j < n; j++) grown[i * size + j] = (inverse[i * n + j] as number) + ((through[i] as number) * (through[j] as number)) / schur;
      grown[i * size + n] = grown[n * size + i] = -(through[i] as number) / schur;
    }
    grown[n * size + n] = 1 / schur;
    this.#inverse = grown;
    this.#moves.push(expected.moves);
    this.#residuals.push(residual);
    this.#logDeterminant += Math.log(schur);
  }

  /** Inverse covariance times residuals. */
  #weightedNow(): Float64Array {
    const n = this.#moves.length;
    if (this.#weighted.length === n) return this.#weighted;
    const weighted = new Float64Array(n);
    for (let i = 0; i < n; i++) for (let j = 0; j < n; j++) weighted[i] = (weighted[i] as number) + (this.#inverse[i * n + j] as number) * (this.#residuals[j] as number);
    return this.#weighted = weighted;
  }

  /** Once for however many readings came: it costs far more than to take one in. */
  #weigh(): void {
    if (this.#isWeighed) return;
    this.#isWeighed = true;
    const n = this.#moves.length;
    this.#logLikelihood = this.#overRange;
    if (n === 0) return;
    const { chartError, chartErrorDeviations: errors } = this.#setup;
    const weighted = this.#weightedNow();
    let squared = 0;
    for (let i = 0; i < n; i++) squared += (this.#residuals[i] as number) * (weighted[i] as number);
    const plain = -0.5 * (squared + this.#logDeterminant + n * Math.log(2 * Math.PI)) + this.#slips.reduce((sum, slip) => sum + Math.log(1 - slip), 0);
    const ways = [plain + Math.log(1 - chartError)];
    const move = new Float64Array(n);
    for (const { part, deviations } of errors) {
      // One chart entry quite wrong: a rank-one growth of the covariance (Sherman-Morrison, matrix determinant lemma).
      let isMoved = false;
      for (let i = 0; i < n; i++) {
        move[i] = deviations * ((this.#moves[i] as Float64Array)[part] as number);
        isMoved ||= move[i] !== 0;
      }
      let [q, t] = [0, 0];
      if (isMoved) {
        for (let i = 0; i < n; i++) {
          let row = 0;
          for (let j = 0; j < n; j++) row += (this.#inverse[i * n + j] as number) * (move[j] as number);
          q += (move[i] as number) * row;
          t += (move[i] as number) * (weighted[i] as number);
        }
      }
      ways.push(plain - 0.5 * Math.log(1 + q) + (0.5 * t * t) / (1 + q) + Math.log(chartError / errors.length));
    }
    // One reading worthless: left out. Its density given the others follows from the inverse covariance.
    for (let i = 0; i < n; i++) {
      const precision = this.#inverse[i * n + i] as number;
      const given = -0.5 * ((weighted[i] as number) ** 2 / precision - Math.log(precision) + Math.log(2 * Math.PI));
      const slip = this.#slips[i] as number;
      const odds = Math.log(slip / (1 - slip)) + (this.#worthless[i] as number) - given;
      this.#slipOdds[this.#order[i] as number] = odds;
      ways.push(plain + odds);
    }
    const all = logSum(ways);
    for (const order of this.#order) this.#slipChances[order] = Math.exp(plain + (this.#slipOdds[order] as number) - all);
    this.#logLikelihood += all;
  }
}

/** Logarithm of the density of a figure that is worth nothing: anything on the meter's range. */
export function logWorthless({ quantity, value }: Pick<Reading, 'quantity' | 'value'>, { fullVolts }: LikelihoodSetup): number {
  return Math.log(quantity === 'voltage' ? 1 / fullVolts : 1 / (WORTHLESS_RANGE * Math.max(Math.abs(value), 0.1)));
}

/** log(sum(exp(values))) without overflow. */
export function logSum(values: readonly number[]): number {
  let most = -Infinity;
  for (const value of values) if (value > most) most = value;
  if (most === -Infinity) return -Infinity;
  let sum = 0;
  for (const value of values) sum += Math.exp(value - most);
  return most + Math.log(sum);
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += (a[i] as number) * (b[i] as number);
  return sum;
}
