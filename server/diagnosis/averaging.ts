/**
 * How strongly a meter averages over its readings, y += w (x - y), learned from how its dropouts end. Once the interruption is over each
 * reading keeps the part q = 1 - w of the one before. A meter that does not average is back at once, but for the one
 * reading in which the interruption ended. Derivation: DERIVATIONS.md, "Meters that average".
 */
import type { DepartureReadings } from './duration.ts';
import { chiSquareQuantile } from './gamma.ts';
import { normalCdf, normalDensity } from './normal.ts';

/** One weight that the newest reading may have in the meter's own averaging, 1 for none, with its chance. */
export interface AveragingNode { readonly weight: number; readonly chance: number }

/** No averaging. */
export const PLAIN: readonly AveragingNode[] = [{ weight: 1, chance: 1 }];

/** How a departure ends: its last reading that can't be told from the farthest one, and those after it. */
export interface Tail {
  readonly top: number;
  readonly after: readonly number[];
  /** Standard deviation of a reading. */
  readonly noise: number;
}

/** Share of meters taken beforehand not to average; the others keep any part up to `MOST_KEPT`, all alike (common practice, no source). */
const PLAIN_SHARE = 0.5;
const MOST_KEPT = 0.8;
/** Share of dropouts taken beforehand to end within the top reading or before the next; the others end within the next. */
const WHOLE_SHARE = 0.5;
/** Readings of a tail that are looked at. */
const TAIL = 12;
/** A reading within so many deviations of the farthest may be on the same plateau. */
const PLATEAU = 5;
/** How rarely a tail that the model does explain is taken for one that it does not. */
const MISFIT_SIZE = 1e-4;
/** What is less likely than this is left out. */
const NEGLIGIBLE = 1e-3;
/** Places at which the part kept is looked at, first over all of its range, then around the best; equally likely nodes that come of it. */
const SCAN = 32;
const NODES = 5;

/** @returns null where the readings after the top are not known */
export function tailOf({ ends, departures, first, last }: DepartureReadings, noise: number, interval: number): Tail | null {
  let farthest = -Infinity;
  for (let i = first; i <= last; i++) farthest = Math.max(farthest, departures[i] as number);
  let at = last;
  while (at > first && !((departures[at] as number) >= farthest - PLATEAU * noise)) at--;
  const after: number[] = [];
  for (let i = at + 1; i < ends.length && after.length < TAIL; i++) {
    const isNext = (ends[i] as number) - (ends[i - 1] as number) < 1.5 * interval;
    if (!isNext || !Number.isFinite(departures[i])) break;
    after.push(departures[i] as number);
  }
  const top = departures[at] as number;
  return after.length < 2 || !(top > 0 && Number.isFinite(top)) ? null : { top, after, noise };
}

interface Fit { readonly log: number; readonly misfit: number }

/** Log likelihood of a tail when the part `kept` of each reading goes into the next, and twice what it lost against a perfect account. */
function fit({ top, after, noise }: Tail, kept: number): Fit {
  let squares = 0;
  let product = 0;
  let power = 0;
  let part = 1;
  for (const value of after) {
    squares += value * value;
    product += value * part;
    power += part * part;
    part *= kept;
  }
  const next = product / power;
  const residual = Math.max(0, squares - next * product) / noise ** 2;
  // The reading after the top: what was kept of it, and of the interruption nothing, or anything up to as much again as the top.
  const deviation = noise * Math.sqrt(1 / power + kept * kept);
  const below = (next - kept * top) / deviation;
  const whole = normalDensity(below) / deviation;
  const partly = (normalCdf(below) - normalCdf((next - top) / deviation)) / ((1 - kept) * top);
  const likelihood = WHOLE_SHARE * whole + (1 - WHOLE_SHARE) * Math.max(0, partly);
  // Where it is nothing to a computer the parabola of its logarithm goes on.
  const log = likelihood > 0 ? Math.log(likelihood) : -0.5 * below * below - Math.log(deviation);
  return { log: log - residual / 2 - Math.log(power) / 2, misfit: residual + Math.max(0, -below) ** 2 };
}

/** False for a tail that no averaging explains: chatter, or a signal that itself comes back slowly. */
export function isExplained(tail: Tail): boolean {
  return Math.min(fit(tail, summit([tail])).misfit, fit(tail, 0).misfit) < chiSquareQuantile(tail.after.length, 1 - MISFIT_SIZE);
}

/** What explained tails of dropouts of one meter say together. @returns nodes whose chances add up to 1 */
export function averagingOf(tails: readonly Tail[]): readonly AveragingNode[] {
  const plain = Math.log(PLAIN_SHARE) + logOf(tails, 0);
  const best = summit(tails);
  const height = logOf(tails, best);
  // Around the best, as far as it matters.
  const edge = (towards: number): number => {
    let near = best;
    let far = towards;
    if (logOf(tails, far) > height - 12) return far;
    for (let k = 0; k < 30; k++) {
      const middle = (near + far) / 2;
      if (logOf(tails, middle) > height - 12) near = middle;
      else far = middle;
    }
    return far;
  };
  const from = edge(0);
  const width = (edge(MOST_KEPT) - from) / (2 * SCAN);
  const chances: number[] = [];
  for (let k = 0; k < 2 * SCAN; k++) chances.push(Math.exp(logOf(tails, from + (k + 0.5) * width) - height));
  const sum = chances.reduce((a, b) => a + b, 0);
  const averages = Math.log(((1 - PLAIN_SHARE) * sum * width) / MOST_KEPT) + height;
  const chance = 1 / (1 + Math.exp(plain - averages));
  if (!(chance > NEGLIGIBLE)) return PLAIN;
  const nodes: AveragingNode[] = [];
  let passed = 0;
  let wanted = 0.5;
  for (const [k, one] of chances.entries()) {
    while (wanted < NODES && passed + one >= (wanted / NODES) * sum) {
      nodes.push({ weight: 1 - (from + (k + ((wanted / NODES) * sum - passed) / one) * width), chance: chance / NODES });
      wanted++;
    }
    passed += one;
  }
  return 1 - chance > NEGLIGIBLE ? [{ weight: 1, chance: 1 - chance }, ...nodes] : nodes.map(({ weight }) => ({ weight, chance: 1 / nodes.length }));
}

function logOf(tails: readonly Tail[], kept: number): number {
  let sum = 0;
  for (const tail of tails) sum += fit(tail, kept).log;
  return sum;
}

/** The likeliest part kept: the best of a scan, then halved in. */
function summit(tails: readonly Tail[]): number {
  let best = 0;
  let height = -Infinity;
  const step = MOST_KEPT / SCAN;
  for (let k = 0; k <= SCAN; k++) {
    const log = logOf(tails, k * step);
    if (log > height) [best, height] = [k * step, log];
  }
  let low = Math.max(0, best - step);
  let high = Math.min(MOST_KEPT, best + step);
  const golden = (Math.sqrt(5) - 1) / 2;
  for (let k = 0; k < 30; k++) {
    const [a, b] = [high - golden * (high - low), low + golden * (high - low)];
    if (logOf(tails, a) > logOf(tails, b)) high = b;
    else low = a;
  }
  const middle = (low + high) / 2;
  return logOf(tails, middle) > height ? middle : best;
}
