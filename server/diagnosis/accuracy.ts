/**
 * How far a shown value can be trusted, and whether it lies within limits by more than that.
 *
 * The largest part of a multimeter's uncertainty is its accuracy specification, a bound: a rectangular distribution. The rest
 * (resolution, noise, leads) is taken as normal. The sum of the two has a closed form, so that the 95 % half-width and the
 * chance of a wrong verdict need no coverage factor chosen by habit (EA-4/02 S9 meets the same case with k = 1.65).
 */
import type { Accuracy, LevelVerdict, Limits } from './judgement.ts';
import { normalCdf, normalDensity } from './normal.ts';

/** What is known of a steady value. SI; unknown is null. */
export interface Measured {
  readonly value: number;
  readonly accuracy: Accuracy | null;
  /** Value of one count. */
  readonly resolution: number | null;
  /** Standard deviation of a quiet reading. */
  readonly noise: number | null;
  /** Quiet readings that the value was taken from. */
  readonly readings: number;
  /** Bound of what the leads may still add, as +/- ohm; 0 or absent for voltages, and for leads nulled by shorting them. */
  readonly leadBound?: number;
  /** The same value on the next finer range; null when no finer one shows it, missing when the ranges are not known. */
  readonly finer?: { readonly accuracy: Accuracy | null; readonly resolution: number } | null;
}

export type UncertaintySource = 'accuracy' | 'resolution' | 'noise' | 'leads';

/** What may be missing for an uncertainty to be stated. */
export type MissingKnowledge = 'accuracy' | 'resolution' | 'noise' | 'second reading';

export interface KnownUncertainty {
  readonly kind: 'known';
  /** Half-width of the interval that holds the true value with 95 %, SI. */
  readonly expanded: number;
  /** Standard uncertainty, SI. */
  readonly standard: number;
  /** Half-width of the largest rectangular part, SI. */
  readonly bound: number;
  /** Standard deviation of all other parts together, SI. */
  readonly spread: number;
  /** Standard uncertainty by source, largest first, SI. */
  readonly parts: readonly { readonly source: UncertaintySource; readonly standard: number }[];
}

export type Uncertainty = KnownUncertainty | { readonly kind: 'unknown'; readonly missing: readonly MissingKnowledge[] };

export const UNCERTAINTY_CONFIDENCE = 0.95;

/** Bounds are rectangular: half-width over root 3 (GUM 4.3.7). */
const RECTANGULAR = Math.sqrt(3);

/**
 * Uncertainty of a steady value from the meter's profile, its resolution, the noise and the leads.
 * @returns `unknown` with what is missing: an accuracy not stated or assumed, a resolution, a noise, or a second reading
 * @throws {RangeError} for a value that is not finite, or a negative accuracy, resolution, noise or lead bound
 */
export function measurementUncertainty(measured: Measured): Uncertainty {
  const { value, accuracy, resolution, noise, readings, leadBound = 0 } = measured;
  if (!Number.isFinite(value)) throw new RangeError(`a value to be judged is finite, not ${value}`);
  for (const part of [accuracy?.fraction, accuracy?.counts, resolution, noise, leadBound]) {
    if (part !== null && part !== undefined && !(part >= 0)) throw new RangeError(`an uncertainty is 0 or more, not ${part}`);
  }
  const missing: MissingKnowledge[] = [];
  if (accuracy === null) missing.push('accuracy');
  if (resolution === null) missing.push('resolution');
  if (noise === null) missing.push('noise');
  if (readings < 2) missing.push('second reading');
  if (accuracy === null || resolution === null || noise === null || missing.length > 0) return { kind: 'unknown', missing };

  const specified = accuracy.fraction * Math.abs(value) + accuracy.counts * resolution;
  const bounds: { source: UncertaintySource; bound: number }[] = [
    { source: 'accuracy', bound: specified },
    { source: 'resolution', bound: resolution / 2 },
    { source: 'leads', bound: leadBound },
  ];
  const largest = bounds.reduce((a, b) => (b.bound > a.bound ? b : a));
  const ofMean = noise / Math.sqrt(readings);
  let variance = ofMean * ofMean;
  for (const part of bounds) if (part !== largest) variance += (part.bound * part.bound) / 3;
  const bound = largest.bound;
  const spread = Math.sqrt(variance);
  const parts: { source: UncertaintySource; standard: number }[] = [
    ...bounds.map((part) => ({ source: part.source, standard: part.bound / RECTANGULAR })),
    { source: 'noise', standard: ofMean },
  ];
  return {
    kind: 'known',
    expanded: halfWidth(bound, spread, UNCERTAINTY_CONFIDENCE),
    standard: Math.sqrt((bound * bound) / 3 + variance),
    bound,
    spread,
    parts: parts.filter((part) => part.standard > 0).sort((a, b) => b.standard - a.standard),
  };
}

/** Integral of the normal distribution function from minus infinity: z Phi(z) + phi(z). */
function normalCdfIntegral(z: number): number {
  return z < -40 ? 0 : z * normalCdf(z) + normalDensity(z);
}

/** Chance that the error is below `x` when it is uniform within +/-bound plus normal with deviation `spread`. */
export function errorCdf(x: number, bound: number, spread: number): number {
  if (spread === 0 || spread < 1e-9 * bound) {
    if (bound === 0) return x < 0 ? 0 : x > 0 ? 1 : 0.5;
    return Math.min(1, Math.max(0, (x + bound) / (2 * bound)));
  }
  // A narrow rectangle adds nothing to the shape but rounding: the closed form divides by it.
  if (bound < 1e-4 * spread) return normalCdf(x / Math.hypot(spread, bound / RECTANGULAR));
  const lower = normalCdfIntegral((x - bound) / spread);
  const upper = normalCdfIntegral((x + bound) / spread);
  return Math.min(1, Math.max(0, ((upper - lower) * spread) / (2 * bound)));
}

/** Half-width of the central interval that holds the error with chance `confidence`. */
export function halfWidth(bound: number, spread: number, confidence: number): number {
  let low = 0;
  let high = bound + 10 * spread;
  if (high === 0) return 0;
  for (let step = 0; step < 60; step++) {
    const middle = (low + high) / 2;
    if (2 * errorCdf(middle, bound, spread) - 1 < confidence) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/**
 * Chance that the true value lies within the limits, given the shown one (JCGM 106 clause 7, nothing known beforehand).
 * @param limits  null on a side means no limit there
 */
export function conformanceChance(value: number, uncertainty: KnownUncertainty, limits: Limits): number {
  const { bound, spread } = uncertainty;
  // The true value is the shown one minus the error.
  const aboveHigh = limits.high === null ? 0 : errorCdf(value - limits.high, bound, spread);
  const belowLow = limits.low === null ? 0 : errorCdf(limits.low - value, bound, spread);
  return Math.max(0, 1 - aboveHigh - belowLow);
}

/** What would turn an undecided level into a decided one. */
export type Remedy = 'null the leads' | 'more quiet readings' | 'a finer range' | 'a better meter';

export interface LevelDecision {
  readonly verdict: LevelVerdict;
  readonly uncertainty: Uncertainty;
  /** Chance that a pass or fail is wrong; null when undecided. */
  readonly wrongChance: number | null;
  /** Chance that the true value lies within the limits; null when the uncertainty is unknown. */
  readonly conformance: number | null;
  /** From the value to the nearest limit, SI; positive inside, negative outside; null without limits. */
  readonly margin: number | null;
  /** For an undecided level: each single step that would decide it if the value stays, simplest first. */
  readonly remedies: readonly Remedy[];
  /** Where no single step would: those that would together. Both are empty when only a value further from the limit would. */
  readonly together: readonly Remedy[];
  /** Where a better meter would decide it: how many times as accurate, and as fine; else null. */
  readonly betterBy: number | null;
}

/**
 * Pass only inside the limits by the guard band, fail only outside by it, else undecided (ILAC-G8:09/2019 with w = U: a wrong
 * pass or fail has a chance below 2.5 % at each limit). Undecided too when the uncertainty is unknown or there is no limit.
 * @throws {RangeError} when the limits cross, and as `measurementUncertainty`
 */
export function guardedLevelVerdict(measured: Measured, limits: Limits): LevelDecision {
  const { low, high } = limits;
  if (low !== null && high !== null && low > high) throw new RangeError(`the low limit ${low} is above the high limit ${high}`);
  const uncertainty = measurementUncertainty(measured);
  const margin = low === null && high === null
    ? null
    : Math.min(low === null ? Infinity : measured.value - low, high === null ? Infinity : high - measured.value);
  if (uncertainty.kind === 'unknown') {
    return { verdict: 'undecided', uncertainty, wrongChance: null, conformance: null, margin, remedies: [], together: [], betterBy: null };
  }
  const conformance = conformanceChance(measured.value, uncertainty, limits);
  const verdict = margin === null ? 'undecided' : verdictByMargin(margin, uncertainty.expanded);
  return {
    verdict,
    uncertainty,
    wrongChance: verdict === 'pass' ? 1 - conformance : verdict === 'fail' ? conformance : null,
    conformance,
    margin,
    ...(verdict === 'undecided' && margin !== null ? findRemedies(measured, margin) : { remedies: [], together: [], betterBy: null }),
  };
}

function verdictByMargin(margin: number, guard: number): LevelVerdict {
  if (margin >= guard) return 'pass';
  return margin < -guard ? 'fail' : 'undecided';
}

/** How many times as accurate meters are than one another, in the steps in which they are offered. */
const BETTER_BY = [2, 3, 5, 10, 20, 50, 100] as const;
/** A meter from the bench instead of one from the hand, where it takes one besides other steps. */
const USUAL_BETTER = 10;

function findRemedies(measured: Measured, margin: number): Pick<LevelDecision, 'remedies' | 'together' | 'betterBy'> {
  const { finer } = measured;
  const decides = (then: Measured): boolean => {
    const uncertainty = measurementUncertainty(then);
    return uncertainty.kind === 'known' && verdictByMargin(margin, uncertainty.expanded) !== 'undecided';
  };
  const better = (then: Measured, times: number): Measured => ({
    ...then,
    resolution: then.resolution === null ? null : then.resolution / 10 ** Math.ceil(Math.log10(times)),
    accuracy: then.accuracy && { fraction: then.accuracy.fraction / times, counts: then.accuracy.counts },
  });
  const single: readonly Step[] = [
    { remedy: 'null the leads', take: (then) => ({ ...then, leadBound: 0 }) },
    { remedy: 'more quiet readings', take: (then) => ({ ...then, readings: then.readings * 10 }) },
    { remedy: 'a finer range', take: (then) => (finer === undefined ? { ...then, resolution: then.resolution === null ? null : then.resolution / 10 } : { ...then, ...finer }) },
  ];
  const remedies = single.filter(({ take }) => decides(take(measured))).map(({ remedy }) => remedy);
  const betterBy = BETTER_BY.find((times) => decides(better(measured, times))) ?? null;
  if (betterBy !== null) remedies.push('a better meter');
  if (remedies.length > 0) return { remedies, together: [], betterBy };
  // The meter at hand before a better one: what is not needed is left out, the dearest first.
  let needed: readonly Step[] = [...single, { remedy: 'a better meter', take: (then) => better(then, USUAL_BETTER) }];
  const decideTogether = (steps: readonly Step[]): boolean => decides(steps.reduce((then, { take }) => take(then), measured));
  if (!decideTogether(needed)) return { remedies: [], together: [], betterBy: null };
  for (const step of needed.toReversed()) {
    const rest = needed.filter((other) => other !== step);
    if (decideTogether(rest)) needed = rest;
  }
  return { remedies: [], together: needed.map(({ remedy }) => remedy), betterBy: needed.some(({ remedy }) => remedy === 'a better meter') ? USUAL_BETTER : null };
}

interface Step { readonly remedy: Remedy; readonly take: (then: Measured) => Measured }
