/**
 * How long a dropout lasted, also when it was shorter than a sample. A meter that averages over its aperture shows an open
 * of length d as a dip of depth D d / A, so that what its readings lost tells the length; dead time, noise, rounding and an
 * unknown depth blur it. What comes out is the middle and the central 95 % of a posterior, or bounds alone where there is
 * no more to be had. Derivation: DERIVATIONS.md, "Length of a dropout".
 */
import { PLAIN } from './averaging.ts';
import type { AveragingNode } from './averaging.ts';
import { chiSquareQuantile } from './gamma.ts';
import { lengthPosterior } from './duration-posterior.ts';
import type { DepartureModel, LengthPosterior } from './duration-posterior.ts';
import type { DurationEstimate } from './judgement.ts';

/** The readings around one departure: a few quiet ones on both sides, those that departed between them. */
export interface DepartureReadings {
  /** End of each reading, s, rising. Missing readings are simply not there. */
  readonly ends: readonly number[];
  /** Level minus reading where down is bad, reading minus level where up is bad: positive in a dropout. SI; NaN when over-range. */
  readonly departures: readonly number[];
  /** Index of the first and of the last reading that departed. */
  readonly first: number;
  readonly last: number;
  /** Departures merged into this one; absent for one. With more the length is that of the whole, from the first to the last. */
  readonly count?: number;
}

/** What is known of the meter and of the signal there. SI. */
export interface DurationView {
  /** Sample interval, s. */
  readonly interval: number;
  /** Aperture, s; above `interval` for overlapping ones (bounds alone); null when not known: bounds over all plausible ones. */
  readonly aperture: number | null;
  /** How the meter may average over its readings, as `averagingOf` tells; absent for not at all. */
  readonly averaging?: readonly AveragingNode[];
  /** Standard deviation of a quiet reading, rounding included. */
  readonly noise: number;
  /** Value of one count; 0 for a fine display. */
  readonly resolution: number;
  /** Shallowest departure that is noticed: the entry threshold. */
  readonly threshold: number;
  /** How far the signal goes when the circuit is fully open; null when that is not known. */
  readonly fullDepth: number | null;
  /** The farthest that it may go then, where `fullDepth` is only the least; absent when that is known. */
  readonly mostDepth?: number;
}

/** Apertures that a meter of unknown aperture may have, as parts of its interval (common practice, no source). */
const PLAUSIBLE_APERTURES = [1, 0.6, 0.3, 0.1];

/** How rarely readings that the model does explain are taken for ones that it does not. */
const MISFIT_SIZE = 1e-4;
/** The ways of averaging that explain the readings must have this chance together. */
const LEAST_EXPLAINED = 0.05;

const UNKNOWN: DurationEstimate = { estimate: null, low: null, high: null };

/**
 * Length of one dropout, s: the posterior's median and central 95 %. Prior: any length from 0.1 ms to 10 s, every decade alike; as
 * likely fully open as partly. Over-range readings, and an aperture that is not known, give bounds without an estimate.
 * Takes one to a few milliseconds (most for coarse displays), so that it can be called at every dropout as it ends.
 * @returns all null when the readings allow no statement
 * @throws {RangeError} for an interval, aperture, noise or threshold that is not positive, or indices outside the readings
 */
export function estimateDuration(readings: DepartureReadings, view: DurationView): DurationEstimate {
  const { ends, departures, first, last } = readings;
  if (!(first >= 0 && first <= last && last < ends.length && ends.length === departures.length)) {
    throw new RangeError(`departed readings ${first}..${last} of ${ends.length} readings and ${departures.length} departures`);
  }
  if (!(view.interval > 0 && view.noise > 0 && view.threshold > 0)) throw new RangeError('interval, noise and threshold are above 0');
  if (view.aperture !== null && !(view.aperture > 0)) throw new RangeError(`an aperture is above 0 s, not ${view.aperture}`);
  const whole = withEdges(readings, view.threshold);
  for (let i = first; i <= last; i++) if (Number.isNaN(departures[i])) return overRangeBounds(whole, view);
  if (view.aperture === null) return boundsOverApertures(whole, view);
  return estimateWith(whole, view, view.aperture);
}

/** Readings right beside the departed ones that are beyond the threshold hold a little of it, too: it began or ended in them. */
function withEdges({ first, last, ...rest }: DepartureReadings, threshold: number): DepartureReadings {
  const { ends, departures } = rest;
  while (first > 0 && (departures[first - 1] as number) > threshold) first--;
  while (last + 1 < ends.length && (departures[last + 1] as number) > threshold) last++;
  return { ...rest, first, last };
}

function estimateWith(readings: DepartureReadings, view: DurationView, aperture: number): DurationEstimate {
  const averaging = asFewAsMatter(readings, view);
  const model = (weight: number): DepartureModel => ({
    aperture,
    noise: view.noise,
    resolution: view.resolution,
    filterWeight: weight,
    threshold: view.threshold,
    fullDepth: view.fullDepth,
    mostDepth: view.fullDepth === null ? null : Math.max(view.fullDepth, view.mostDepth ?? 0),
    shortest: Math.min(1e-4, aperture / 100),
    longest: Math.max(10, 3 * ((readings.ends[readings.last] as number) - (readings.ends[readings.first] as number))),
  });
  const bounds = (): DurationEstimate => lostAreaBounds(readings, model(lowestWeight(averaging)), view.interval);
  // Apertures that overlap share what they average: the product over readings doesn't hold. Nor is what chatters a single interruption.
  if (aperture > 1.01 * view.interval || (readings.count ?? 1) > 1) return bounds();
  const parts: Part[] = [];
  for (const { weight, chance } of averaging) {
    const posterior = lengthPosterior(readings, model(weight));
    // A shape that no single interruption explains (chatter, disturbed readings).
    if (posterior !== null && posterior.misfit <= chiSquareQuantile(posterior.readings, 1 - MISFIT_SIZE)) parts.push({ posterior, chance });
  }
  // Where the likelier ways of averaging explain nothing, an unlikely one that does is no explanation either.
  if (parts.reduce((sum, { chance }) => sum + chance, 0) < LEAST_EXPLAINED) return bounds();
  const { shortest, longest } = model(1);
  const quantile = (p: number): number => quantileOf(parts, p, shortest, longest);
  return { estimate: quantile(0.5), low: quantile(0.025), high: quantile(0.975) };
}

/** Weights that the readings can't tell apart (they differ by less than the noise in what they make of the deepest one) count as one. */
function asFewAsMatter({ departures, first, last }: DepartureReadings, { averaging = PLAIN, noise }: DurationView): readonly AveragingNode[] {
  const averages = averaging.filter(({ weight }) => weight < 1);
  if (averages.length === 0) return averaging;
  const weights = averages.map(({ weight }) => weight);
  let deepest = 0;
  for (let i = first; i <= last; i++) deepest = Math.max(deepest, departures[i] as number);
  if ((1 - Math.min(...weights)) * deepest <= noise) return PLAIN;
  if ((Math.max(...weights) - Math.min(...weights)) * deepest > noise) return averaging;
  const chance = averages.reduce((sum, one) => sum + one.chance, 0);
  const weight = averages.reduce((sum, one) => sum + one.weight * one.chance, 0) / chance;
  return [...averaging.filter((one) => one.weight === 1), { weight, chance }];
}

/** The weight that a meter has at least, at 97.5 %. */
function lowestWeight(averaging: readonly AveragingNode[]): number {
  const rising = [...averaging].sort((a, b) => a.weight - b.weight);
  let below = 0;
  for (const { weight, chance } of rising) {
    below += chance;
    if (below > 0.025) return weight;
  }
  return 1;
}

interface Part { readonly posterior: LengthPosterior; readonly chance: number }

/** Length below which the dropout was with chance `p`, s, whichever of the ways to average it was. */
function quantileOf(parts: readonly Part[], p: number, shortest: number, longest: number): number {
  const wanted = p * parts.reduce((sum, { chance }) => sum + chance, 0);
  let low = Math.log(shortest);
  let high = Math.log(longest);
  for (let k = 0; k < 40; k++) {
    const middle = (low + high) / 2;
    const length = Math.exp(middle);
    let below = 0;
    for (const { posterior, chance } of parts) below += chance * posterior.below(length);
    if (below <= wanted) low = middle;
    else high = middle;
  }
  return Math.exp((low + high) / 2);
}

/**
 * Bounds that hold whatever the shape. Low: what the readings lost beyond the threshold, had it all been at full depth; of several departures the
 * time between the first and the last departed aperture where that is more. High: the time between the quiet apertures on both sides. (Dead time hides
 * parts of a dropout, and an averaging meter keeps the sum.)
 */
function lostAreaBounds({ ends, departures, first, last, count = 1 }: DepartureReadings, model: DepartureModel, interval: number): DurationEstimate {
  let lost = 0;
  let deepest = 0;
  for (let i = first; i <= last; i++) {
    lost += Math.max(0, (departures[i] as number) - model.threshold);
    deepest = Math.max(deepest, departures[i] as number);
  }
  const depth = Math.max(deepest, model.mostDepth ?? Infinity);
  const { before, after } = quietNeighbours(ends, first, last);
  const unseen = 2 * Math.min(1, model.threshold / deepest / model.filterWeight) * model.aperture;
  // Every moment lies in at most so many apertures.
  const overlapping = Math.ceil(model.aperture / interval - 0.01);
  const open = lost > 0 && Number.isFinite(depth) ? (lost * model.aperture) / depth / overlapping : null;
  // The whole of it began before the first departed aperture ended, and ended after the last one began that shows more than what the meter kept of it.
  const kept = 1 - model.filterWeight;
  const afterwards = kept > 0 ? Math.floor(Math.log(Math.max(1, deepest / model.threshold)) / -Math.log(kept)) : 0;
  const between = (ends[last] as number) - afterwards * interval - model.aperture - (ends[first] as number);
  const low = count > 1 && between > (open ?? 0) ? between : open;
  return { estimate: null, low, high: Math.max(low ?? 0, after - model.aperture - before + unseen) };
}

/** End of the quiet reading before and of the one after; where there is none, as far away as the neighbouring readings are. */
function quietNeighbours(ends: readonly number[], first: number, last: number): { before: number; after: number } {
  const step = ends.length > 1 ? ((ends.at(-1) as number) - (ends[0] as number)) / (ends.length - 1) : 0;
  return { before: ends[first - 1] ?? (ends[first] as number) - step, after: ends[last + 1] ?? (ends[last] as number) + step };
}

/** Union of the intervals of all plausible apertures: a bound, without a best value. */
function boundsOverApertures(readings: DepartureReadings, view: DurationView): DurationEstimate {
  let low = Infinity;
  let high = 0;
  for (const part of PLAUSIBLE_APERTURES) {
    const one = estimateWith(readings, view, part * view.interval);
    if (one.low === null || one.high === null) continue;
    low = Math.min(low, one.low);
    high = Math.max(high, one.high);
  }
  return high === 0 ? UNKNOWN : { estimate: null, low, high };
}

/**
 * Bounds where the meter went over-range: how deep the dip was is not known, so any touch may have done it. The dropout held
 * at least from the end of the first over-range aperture to the beginning of the last one, and fits between the apertures
 * of the quiet readings on both sides.
 */
function overRangeBounds({ ends, departures, first, last }: DepartureReadings, view: DurationView): DurationEstimate {
  const aperture = Math.min(view.aperture ?? view.interval, view.interval);
  const isOver = (i: number): boolean => Number.isNaN(departures[i]);
  let from = first;
  while (!isOver(from)) from++;
  let to = last;
  while (!isOver(to)) to--;
  const low = Math.max(0, (ends[to] as number) - aperture - (ends[from] as number));
  // The quiet aperture before may have been touched at its very end, too little to show: allow the part that stays below the threshold.
  const { before, after } = quietNeighbours(ends, first, last);
  const unseen = view.fullDepth === null ? 0 : Math.min(1, view.threshold / view.fullDepth) * aperture;
  const shortestAperture = view.aperture === null ? PLAUSIBLE_APERTURES.at(-1) as number * view.interval : aperture;
  return { estimate: null, low: from < to ? low : null, high: after - shortestAperture - before + 2 * unseen };
}
