/**
 * What the counts of a coarse display tell of the level between two counts and of the noise under it. Both are hidden by rounding: a display that
 * stands still, or flickers between two counts, shows the same for many of them. Derivation: DERIVATIONS.md, "Coarse displays".
 */
import { normalUpper } from './normal.ts';

/** Counts on either side of the one that is shown most often. */
export const REACH = 4;
export const CELLS = 2 * REACH + 1;

/** A level and a noise that would have shown what was shown, in counts. */
export interface CountPlace {
  /** Level before rounding, from the count shown most often (about -0.5 to 0.5); a dropout goes down. */
  readonly level: number;
  /** Deviation before rounding. */
  readonly noise: number;
}

/** Noise that is told apart, in counts: below, the display just stands still; above, rounding no longer matters. */
const LEAST_NOISE = 0.02;
const MOST_NOISE = 1.2;
const NOISE_STEPS = 24;
/** Half the chi-square point of two unknowns at 99 %: what fits worse than the best by more does not fit. */
const FITS_WITHIN = 4.605;
/** Noises of those that fit at which levels are given. */
const GIVEN_NOISES = 7;
/** At most this part of the readings may be short dropouts that were not noticed (common practice, no source). */
const MOST_DIPS = 0.02;

/**
 * Levels and noises under which `cells` are likely enough: for noises from the least to the most that fit, the lowest, best and highest level.
 * @param cells  readings at each count from -REACH to REACH about the one shown most often; what is farther counts in the outermost
 */
export function placesThatFit(cells: Float64Array): CountPlace[] {
  const likelihood = likelihoodOf(cells);
  const bestAt = (logNoise: number): { level: number; fit: number } => bestLevel((level) => likelihood(level, Math.exp(logNoise)), Math.exp(logNoise));
  const from = Math.log(LEAST_NOISE);
  const step = (Math.log(MOST_NOISE) - from) / (NOISE_STEPS - 1);
  const fits = Array.from({ length: NOISE_STEPS }, (_, k) => bestAt(from + k * step).fit);
  const top = fits.indexOf(Math.max(...fits));
  const best = highest((x) => bestAt(x).fit, from + step * Math.max(0, top - 1), from + step * Math.min(NOISE_STEPS - 1, top + 1));
  const least = Math.max(best.value, fits[top] as number) - FITS_WITHIN;
  const isFit = (x: number): boolean => bestAt(x).fit >= least;
  const low = edge(isFit, best.at, -step, from);
  const high = edge(isFit, best.at, step, from + step * (NOISE_STEPS - 1));
  const places: CountPlace[] = [];
  for (let k = 0; k < GIVEN_NOISES; k++) {
    const noise = Math.exp(low + ((high - low) * k) / (GIVEN_NOISES - 1));
    const { level, fit } = bestLevel((at) => likelihood(at, noise), noise);
    if (fit < least - 0.1) continue;
    const holds = (at: number): boolean => likelihood(at, noise) >= least;
    for (const at of new Set([edge(holds, level, -0.3 * noise, -1), level, edge(holds, level, 0.3 * noise, 1)])) places.push({ level: at, noise });
  }
  return places;
}

/**
 * Log likelihood of the cells. Each cell on the way of a dropout may hold dips besides, as many as fit best, as long as they are few together: a
 * short dropout that stays below the threshold looks like a flicker to that side.
 */
function likelihoodOf(cells: Float64Array): (level: number, noise: number) => number {
  const shown: number[] = [];
  let total = 0;
  for (let c = 0; c < CELLS; c++) {
    if ((cells[c] as number) > 0) shown.push(c);
    total += cells[c] as number;
  }
  const chances = new Float64Array(CELLS);
  return (level, noise) => {
    let excess = 0;
    for (const c of shown) {
      const chance = chanceOf(c, level, noise);
      chances[c] = chance;
      if (c < REACH) excess += Math.max(0, (cells[c] as number) / total - chance);
    }
    const kept = excess > MOST_DIPS ? MOST_DIPS / excess : 1;
    let sum = 0;
    for (const c of shown) {
      const chance = chances[c] as number;
      const n = cells[c] as number;
      const dips = c < REACH ? kept * Math.max(0, n / total - chance) : 0;
      sum += n * Math.log(Math.max(1e-300, (1 - kept * excess) * chance + dips));
    }
    return sum;
  };
}

/** Chance that a reading is shown in a cell; the outermost hold all that is farther out. */
function chanceOf(cell: number, level: number, noise: number): number {
  const from = cell === 0 ? -Infinity : (cell - REACH - 0.5 - level) / noise;
  const to = cell === CELLS - 1 ? Infinity : (cell - REACH + 0.5 - level) / noise;
  // The difference of the smaller tails loses no digits.
  return from > 0 ? normalUpper(from) - normalUpper(to) : normalUpper(-to) - normalUpper(-from);
}

/** Tried levels lie where they matter: so many deviations from the edges of the count. */
function bestLevel(likelihood: (level: number) => number, noise: number): { level: number; fit: number } {
  const tried = [0];
  for (let z = -1.5; z <= 4.5; z += 0.5) {
    const level = 0.5 - noise * z;
    if (level > 0) tried.push(level, -level);
  }
  tried.sort((a, b) => a - b);
  let top = 0;
  let fit = -Infinity;
  tried.forEach((level, k) => {
    const here = likelihood(level);
    if (here > fit) [top, fit] = [k, here];
  });
  const finest = highest(likelihood, tried[Math.max(0, top - 1)] as number, tried[Math.min(tried.length - 1, top + 1)] as number);
  return finest.value > fit ? { level: finest.at, fit: finest.value } : { level: tried[top] as number, fit };
}

const GOLDEN = (Math.sqrt(5) - 1) / 2;

/** Highest value of a function with one top between `from` and `to`, by golden sections. */
function highest(of: (x: number) => number, from: number, to: number): { at: number; value: number } {
  let [low, high] = [from, to];
  let [left, right] = [high - GOLDEN * (high - low), low + GOLDEN * (high - low)];
  let [atLeft, atRight] = [of(left), of(right)];
  for (let round = 0; round < 16 && high - low > 1e-7; round++) {
    if (atLeft > atRight) {
      [high, right, atRight] = [right, left, atLeft];
      left = high - GOLDEN * (high - low);
      atLeft = of(left);
    } else {
      [low, left, atLeft] = [left, right, atRight];
      right = low + GOLDEN * (high - low);
      atRight = of(right);
    }
  }
  return atLeft > atRight ? { at: left, value: atLeft } : { at: right, value: atRight };
}

/** How far from `from` in steps that grow, up to `limit`, it still holds. */
function edge(holds: (x: number) => boolean, from: number, step: number, limit: number): number {
  const bound = (x: number): number => (step > 0 ? Math.min(x, limit) : Math.max(x, limit));
  let inside = from;
  let outside = bound(from + step);
  while (holds(outside)) {
    if (outside === limit) return limit;
    [inside, outside] = [outside, bound(outside + 2 * (outside - inside))];
  }
  for (let round = 0; round < 12; round++) {
    const middle = (inside + outside) / 2;
    if (holds(middle)) inside = middle;
    else outside = middle;
  }
  return inside;
}
