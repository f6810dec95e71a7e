/**
 * What this meter can't see: the shortest dropout that may show, the length that can't be missed, the chance of catching one of
 * a given length, and the smallest series resistance that would show. Always beside the verdict.
 *
 *   time     0        T-A      T        2T-A     2T
 *            |  dead   |aperture|  dead   |aperture|       one reading per interval T, averaged over its aperture A
 *                  [ dropout d ]
 *                       |--o1--|                           overlap o1 of the first aperture: its reading falls by D o1 / A
 */
import { normalCdf } from './normal.ts';

/** How a meter looks at the circuit now. SI. */
export interface MeterView {
  /** Sample interval T, s (> 0). */
  readonly interval: number;
  /** Aperture A, s (> 0); above `interval` for a meter that averages over overlapping stretches. */
  readonly aperture: number;
  /** Entry threshold h (> 0). */
  readonly threshold: number;
  /** How far the signal goes in a full dropout, D (> 0): the level itself for a supply that opens. */
  readonly depth: number;
  /** Standard deviation of a quiet reading, rounding to counts included (as the noise of the definitions is). */
  readonly noise: number;
  /** Value of one count; 0 for a display so fine that rounding doesn't matter. */
  readonly resolution: number;
  /**
   * Where the level lies between two counts, as a fraction of a count from the count below (0..1), when that is known.
   * Matters only on a coarse display; unknown (absent) averages over all places.
   */
  readonly levelFraction?: number;
}

function checkView(view: MeterView): void {
  const { interval, aperture, threshold, depth, noise, resolution } = view;
  if (!(interval > 0 && aperture > 0)) throw new RangeError(`interval and aperture are above 0 s, not ${interval}, ${aperture}`);
  if (!(threshold > 0 && depth > 0)) throw new RangeError(`threshold and depth are above 0, not ${threshold}, ${depth}`);
  if (!(noise >= 0 && resolution >= 0)) throw new RangeError(`noise and resolution are 0 or more, not ${noise}, ${resolution}`);
}

/**
 * Shortest dropout that may be seen, d_min = h A / D, s: it reaches the threshold when one aperture holds all of it.
 * @returns null when a dropout of this depth doesn't reach the threshold however long it lasts
 * @throws {RangeError} for a view that can't be
 */
export function shortestVisibleDropout(view: MeterView): number | null {
  checkView(view);
  const { threshold, aperture, depth } = view;
  return depth > threshold ? (threshold * aperture) / depth : null;
}

/**
 * Length that can't be missed, d_sure = T - A + 2 d_min, s: wherever it falls, one aperture holds at least d_min of it.
 * (At the threshold exactly, noise decides; `lengthCaughtWith` takes the noise into account.)
 * @returns null when a dropout of this depth can't be seen at all
 * @throws {RangeError} for a view that can't be
 */
export function sureDropout(view: MeterView): number | null {
  const shortest = shortestVisibleDropout(view);
  // Overlapping apertures (A > T) leave no dead time, and d_min is then sure by itself once T - A + 2 d_min is less.
  return shortest === null ? null : Math.max(shortest, view.interval - view.aperture + 2 * shortest);
}

/** Nodes and weights of Gauss-Legendre quadrature with 8 points on (-1, 1), positive half (Abramowitz & Stegun 25.4.30). */
const GAUSS = [
  [0.1834346424956498, 0.362683783378362], [0.525532409916329, 0.3137066458778873],
  [0.7966664774136267, 0.2223810344533745], [0.9602898564975363, 0.1012285362903763],
] as const;

/**
 * Chance that one dropout of length `length`, beginning at any moment, shows:
 * p(d) = 1 - E_phase prod_i (1 - P(reading i is beyond the threshold | overlap o_i)), over the readings that it touches.
 * With a coarse display the reading is rounded to counts first, exactly.
 * @param length  s (>= 0)
 * @throws {RangeError} for a view that can't be, or a negative length
 */
export function catchChance(length: number, view: MeterView): number {
  checkView(view);
  if (!(length >= 0)) throw new RangeError(`a length is 0 s or more, not ${length}`);
  if (length === 0) return 0;
  const analog = analogNoise(view);
  const { resolution, levelFraction } = view;
  // Rounding matters only when a count is wide against the noise.
  if (resolution === 0 || resolution < 0.1 * analog) return chanceOverPhase(length, view, view.threshold, analog);
  if (levelFraction !== undefined) return chanceOverPhase(length, view, roundedThreshold(view, levelFraction), analog);
  // Over all places of the level; the count that it takes changes where the threshold, in counts, has the same fraction.
  const change = view.threshold / resolution - Math.floor(view.threshold / resolution);
  const atPlace = (fraction: number): number => chanceOverPhase(length, view, roundedThreshold(view, fraction), analog);
  return Math.min(1, integrate(atPlace, 0, change) + integrate(atPlace, change, 1));
}

/** Gauss-Legendre quadrature of a smooth function. */
function integrate(of: (x: number) => number, from: number, to: number): number {
  const half = (to - from) / 2;
  if (half <= 0) return 0;
  let sum = 0;
  for (const [node, weight] of GAUSS) sum += half * weight * (of(from + half - half * node) + of(from + half + half * node));
  return sum;
}

/** Noise before rounding: the stated noise holds the rounding's own q / sqrt(12). */
function analogNoise({ noise, resolution }: MeterView): number {
  return Math.sqrt(Math.max(0, noise * noise - (resolution * resolution) / 12));
}

/**
 * How far the unrounded signal must fall below the level for the rounded reading to be more than the threshold below it.
 * With the level at (n + f) counts, the reading must be at most k = ceil(n + f - h / q) - 1 counts, so the signal below k + 1/2.
 */
function roundedThreshold({ threshold, resolution }: MeterView, levelFraction: number): number {
  const countsBelow = Math.ceil(levelFraction - threshold / resolution) - 1;
  return (levelFraction - countsBelow - 0.5) * resolution;
}

/**
 * As `catchChance`, where a reading shows the dropout when the signal falls by `threshold` or more before it is rounded, and scatters by `noise`.
 * @param threshold  SI @param noise  deviation of the signal before rounding, SI
 */
export function chanceOverPhase(length: number, view: Pick<MeterView, 'interval' | 'aperture' | 'depth'>, threshold: number, noise: number): number {
  const { interval, aperture, depth } = view;
  // Whole apertures inside the dropout are all alike: count them instead of adding them up.
  const chanceAtOverlap = (overlap: number): number => {
    const margin = (depth * overlap) / aperture - threshold;
    return noise === 0 ? (margin > 0 ? 1 : 0) : normalCdf(margin / noise);
  };
  const whole = chanceAtOverlap(aperture);
  const missed = (start: number): number => {
    // Apertures are ((i + 1) T - A, (i + 1) T); the dropout is (start, start + length) with start in 0..T.
    const end = start + length;
    const first = Math.floor(start / interval);
    const last = Math.floor((end + aperture) / interval) - 1;
    let chance = 1;
    const firstWhole = Math.ceil((start + aperture) / interval) - 1;
    const lastWhole = Math.floor(end / interval) - 1;
    const wholes = Math.max(0, lastWhole - firstWhole + 1);
    if (wholes > 0) chance *= Math.pow(1 - whole, wholes);
    for (let i = first; i <= last; i++) {
      if (wholes > 0 && i === firstWhole) i = lastWhole + 1;
      const close = (i + 1) * interval;
      const overlap = Math.min(end, close) - Math.max(start, close - aperture);
      if (overlap > 0) chance *= 1 - chanceAtOverlap(Math.min(overlap, aperture));
      if (chance === 0) return 0;
    }
    return chance;
  };
  const edges = phaseEdges(length, view, threshold, noise);
  let sum = 0;
  for (let k = 1; k < edges.length; k++) sum += integrate(missed, edges[k - 1] as number, edges[k] as number);
  return Math.min(1, Math.max(0, 1 - sum / interval));
}

/**
 * Starts within one interval between which the chance is smooth: where an edge of the dropout passes an edge of an aperture,
 * and around the start at which an overlap reaches the threshold, as finely as the noise blurs it.
 */
function phaseEdges(length: number, { interval, aperture, depth }: Pick<MeterView, 'interval' | 'aperture' | 'depth'>, threshold: number, noise: number): number[] {
  const edges = [0, interval];
  const add = (start: number): void => {
    edges.push(start - Math.floor(start / interval) * interval);
  };
  const reach = (threshold * aperture) / depth;
  const blur = (noise * aperture) / depth;
  const steps = blur > 0 ? [-6, -4, -2.5, -1, 0, 1, 2.5, 4, 6] : [0];
  for (const edge of [0, -aperture]) {
    add(edge);
    add(edge - length);
  }
  for (const step of steps) {
    const overlap = reach + step * blur;
    add(-overlap); // dropout begins `overlap` before an aperture closes
    add(-aperture + overlap - length); // dropout ends `overlap` after an aperture opens
  }
  return edges.sort((a, b) => a - b);
}

/**
 * Shortest length that is caught with at least `chance`, s; noise, dead time and rounding included.
 * @param chance  0 < chance < 1
 * @returns null when no length up to `longest` is
 * @throws {RangeError} for a chance outside its range or a view that can't be
 */
export function lengthCaughtWith(chance: number, view: MeterView, longest = 10): number | null {
  return lengthAtChance(chance, (length) => catchChance(length, view), longest);
}

/** The same, where `caught` says how likely a length (s) is caught; it rises with the length. */
export function lengthAtChance(chance: number, caught: (length: number) => number, longest = 10, precision = 1e-4): number | null {
  if (!(chance > 0 && chance < 1)) throw new RangeError(`a chance to reach lies between 0 and 1, not ${chance}`);
  if (caught(longest) < chance) return null;
  let low = 0;
  let high = longest;
  for (let step = 0; step < 40 && high - low > precision * high; step++) {
    const middle = low > 0 ? Math.sqrt(low * high) : high / 16;
    if (caught(middle) < chance) low = middle;
    else high = middle;
  }
  return high;
}

/**
 * Smallest resistance in series with the load, ohm, that would show in a voltage at the load: R = R_load h / (V - h).
 * Without load current nothing shows: into a bare meter (10 Mohm) a joint of kilohms reads full voltage.
 * @param level  voltage at the load, V (> 0)
 * @param loadOhms  resistance of all that loads the circuit there, ohm (> 0); the meter's own input resistance when nothing else does
 * @returns null when the threshold exceeds the level
 * @throws {RangeError} for a level, threshold or load that is not positive
 */
export function smallestVisibleSeriesOhms(level: number, threshold: number, loadOhms: number): number | null {
  if (!(level > 0 && threshold > 0 && loadOhms > 0)) throw new RangeError('level, threshold and load are above 0');
  return threshold < level ? (loadOhms * threshold) / (level - threshold) : null;
}
