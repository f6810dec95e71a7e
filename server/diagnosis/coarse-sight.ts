/**
 * What a take would have caught on a coarse display. Where the level lies between two counts, and how much noise there is under them, decides how far a
 * dropout must go to be shown as one; the counts that were shown tell it, but not always sharply. So the chance has a lowest and a highest value: those
 * of all levels and noises that fit what was shown. Derivation: DERIVATIONS.md, "Coarse displays".
 */
import { CELLS, placesThatFit, REACH } from './count-places.ts';
import type { CountPlace } from './count-places.ts';
import { StepTally } from './step-tally.ts';
import type { StepTable } from './step-tally.ts';
import { chanceOverPhase } from './visibility.ts';
import type { MeterView } from './visibility.ts';

/** Lowest and highest chance that fit what was shown. */
export interface ChanceRange { readonly low: number; readonly high: number }

/** What is in force at one moment, in counts; a dropout goes down. */
export interface CoarseMoment {
  /** Level that the judge has found. */
  readonly level: number;
  readonly entry: number;
  readonly noise: number;
  /** How far a full dropout goes. */
  readonly depth: number;
}

/** Readings looked at together: the level must hardly move while they come. */
const WINDOW = 128;
/** A level that has moved so many counts begins a new window; so does a depth, or count, that is so much another one. */
const LEVEL_MOVED = 0.6;
const DEPTH_MOVED = 0.05;
/** Windows that showed the same belong together; so many sorts of them are told apart. */
const MOST_SORTS = 24;
/** Points of chi-square at 99.9 %, by degrees of freedom. */
const DIFFERENT = [0, 10.83, 13.82, 16.27, 18.47, 20.52, 22.46, 24.32, 26.12];
/** What fits is worked out anew when there are so many times as many readings. */
const GROWN = 1.1;
/** Steps in which moments are kept: counts, and the logarithm of the noise. */
const COUNT_STEP = 0.02;
const NOISE_STEP = 0.02;

type Look = Pick<MeterView, 'interval' | 'aperture'>;
interface Weighed extends CoarseMoment { readonly weight: number }
type Kept = Omit<Weighed, 'depth'>;
/** The highest count that is shown by a departure, from the count shown most often. */
interface Cut { readonly cut: number; readonly weight: number }

/** Windows that showed the same. */
class Sort {
  readonly cells = new Float64Array(CELLS);
  readonly moments = new StepTally();
  /** Readings in the cells. */
  total = 0;
  depth = 0;
  /** The cells that the places rest on, and the moments that had been then. */
  #used = new Float64Array(CELLS);
  #usedTotal = 0;
  #usedMoments: StepTable = { width: 1, steps: new Float64Array(0) };
  #places: readonly CountPlace[] | null = null;
  #chances = new Map<number, Float64Array>();
  #chancesOf = '';

  add(cells: Float64Array, moments: readonly Weighed[], mode: number): void {
    for (let c = 0; c < CELLS; c++) this.cells[c] = (this.cells[c] as number) + (cells[c] as number);
    this.total += sum(cells);
    for (const { level, entry, noise, depth, weight } of moments) {
      this.moments.add((level - mode) / COUNT_STEP, entry / COUNT_STEP, Math.log(noise) / NOISE_STEP, weight);
      this.depth += (depth - this.depth) * (weight / this.moments.weight);
    }
    if (this.total < GROWN * this.#usedTotal) return;
    this.#used = this.cells.slice();
    this.#usedTotal = this.total;
    this.#usedMoments = this.moments.table();
    this.#places = null;
  }

  /** Readings that `rangeUsed` rests on. */
  get usedTotal(): number { return this.#usedTotal; }

  /** As `range`, over what had been noted when what fits was last worked out. */
  rangeUsed(length: number, look: Look, z: number): ChanceRange { return this.#range(length, look, momentsOf(this.#usedMoments).map((one) => cutAt(one, z))); }

  range(length: number, look: Look, z: number, further: readonly Cut[] = []): ChanceRange { return this.#range(length, look, [...momentsOf(this.moments.table()).map((one) => cutAt(one, z)), ...further]); }

  #range(length: number, { interval, aperture }: Look, cuts: readonly Cut[]): ChanceRange {
    if (this.#places === null) {
      this.#places = placesThatFit(this.#used);
      this.#chancesOf = '';
    }
    const places = this.#places;
    const asked = `${length},${interval},${aperture},${this.depth}`;
    if (this.#chancesOf !== asked) {
      this.#chancesOf = asked;
      this.#chances = new Map();
    }
    const weights = new Map<number, number>();
    let weight = 0;
    for (const { cut, weight: more } of cuts) {
      weights.set(cut, (weights.get(cut) ?? 0) + more);
      weight += more;
    }
    const mean = new Float64Array(places.length);
    for (const [cut, kept] of weights) {
      let chances = this.#chances.get(cut);
      if (chances === undefined) {
        const depth = this.depth;
        chances = Float64Array.from(places, ({ level, noise }) => chanceOverPhase(length, { interval, aperture, depth }, level - cut - 0.5, noise));
        this.#chances.set(cut, chances);
      }
      for (let k = 0; k < mean.length; k++) mean[k] = (mean[k] as number) + (chances[k] as number) * (kept / weight);
    }
    return { low: Math.max(0, Math.min(...mean)), high: Math.min(1, Math.max(...mean)) };
  }
}

export class CoarseSight {
  /** Counts shown in the window, and how many. */
  readonly #shown = new Float64Array(2 * WINDOW);
  #filled = 0;
  #moments: Weighed[] = [];
  #sorts: Sort[] = [];
  #latest: Sort | null = null;
  readonly #giveBack: (moments: readonly Weighed[]) => void;

  /** @param giveBack  takes the moments of windows that showed more counts than a steady level does */
  constructor(giveBack: (moments: readonly Weighed[]) => void) { this.#giveBack = giveBack; }

  /**
   * @param shown  begins with so many `readings` that were quiet (at most 128), in counts (whole numbers), a dropout going down
   * @param weight  readings that were judged so (> 0)
   */
  note(shown: Float64Array, readings: number, moment: CoarseMoment, weight: number): void {
    const first = this.#moments[0];
    if (first !== undefined && (Math.abs(moment.level - first.level) > LEVEL_MOVED || isOther(moment.depth, first.depth))) this.close();
    for (let k = 0; k < readings; k++) this.#shown[this.#filled++] = shown[k] as number;
    this.#moments.push({ level: moment.level, entry: moment.entry, noise: moment.noise, depth: moment.depth, weight });
    if (this.#filled >= WINDOW) this.close();
  }

  /** What comes next is looked at by itself. */
  close(): void {
    const moments = this.#moments;
    if (moments.length === 0) return;
    const window = cellsOf(this.#shown, this.#filled);
    this.#filled = 0;
    this.#moments = [];
    if (window === null) {
      this.#giveBack(moments);
      this.#latest = null;
      return;
    }
    const { sort, shift } = this.#sortOf(window.cells, (moments[0] as Weighed).depth) ?? { sort: new Sort(), shift: 0 };
    if (!this.#sorts.includes(sort)) this.#sorts.push(sort);
    sort.add(shifted(window.cells, shift), moments, window.mode - shift);
    this.#latest = sort;
  }

  /** The sort of windows that this one belongs to, and by how many counts its own are to be shifted; null when it is to begin one. */
  #sortOf(cells: Float64Array, depth: number): { sort: Sort; shift: number } | null {
    // What was shown just before is mostly shown again.
    const latest = this.#latest;
    if (latest !== null && !isOther(latest.depth, depth)) {
      for (const shift of SHIFTS) if (isAlike(difference(latest.cells, cells, shift))) return { sort: latest, shift };
    }
    let nearest: { sort: Sort; shift: number } | null = null;
    let least = Infinity;
    let isSame = false;
    for (const sort of this.#sorts) {
      if (isOther(sort.depth, depth)) continue;
      for (const shift of SHIFTS) {
        const found = difference(sort.cells, cells, shift);
        if (found.statistic >= least) continue;
        [nearest, least, isSame] = [{ sort, shift }, found.statistic, isAlike(found)];
      }
    }
    return isSame || this.#sorts.length >= MOST_SORTS ? nearest : null;
  }

  /**
   * Lowest and highest mean chance over the moments, and how many readings they stand for.
   * @param z  noise deviations that a departure needs to be listed
   */
  range(length: number, look: Look, z: number): ChanceRange & { weight: number } {
    // Asking must change nothing: the window that is not full yet is only looked at.
    const open = this.#moments.length === 0 ? null : cellsOf(this.#shown, this.#filled);
    const moments = open === null ? [] : this.#moments;
    const own = open === null ? null : this.#sortOf(open.cells, (moments[0] as Weighed).depth);
    const sorts: (readonly [Sort, number])[] = this.#sorts.map((sort) => [sort, sort.moments.weight]);
    const further = open === null ? [] : moments.map(({ level, ...moment }) => cutAt({ ...moment, level: level - open.mode + (own?.shift ?? 0) }, z));
    const more = further.reduce((total, { weight }) => total + weight, 0);
    if (open !== null && own === null) {
      const sort = new Sort();
      sort.add(open.cells, moments, open.mode);
      sorts.push([sort, more]);
    }
    let [low, high, total] = [0, 0, 0];
    for (const [sort, kept] of sorts) {
      const isOwn = sort === own?.sort;
      const weight = kept + (isOwn ? more : 0);
      const range = sort.range(length, look, z, isOwn ? further : []);
      low += range.low * weight;
      high += range.high * weight;
      total += weight;
    }
    return total === 0 ? { low: 0, high: 1, weight: 0 } : { low: low / total, high: high / total, weight: total };
  }

  /** What the display shows now: `version` tells one such state from the next. Null while nothing was shown that tells. */
  get now(): { version: string; range: (length: number, look: Look, z: number) => ChanceRange } | null {
    const latest = this.#latest;
    return latest === null ? null : { version: `${this.#sorts.indexOf(latest)}/${latest.usedTotal}`, range: (length, look, z) => latest.rangeUsed(length, look, z) };
  }
}

function momentsOf({ width, steps }: StepTable): Kept[] {
  const moments: Kept[] = [];
  for (let at = 0; at < steps.length; at += 4) {
    moments.push({
      level: (steps[at] as number) * width * COUNT_STEP, entry: (steps[at + 1] as number) * width * COUNT_STEP,
      noise: Math.exp((steps[at + 2] as number) * width * NOISE_STEP), weight: steps[at + 3] as number,
    });
  }
  return moments;
}

function cutAt({ level, entry, noise, weight }: Kept, z: number): Cut {
  // What is a whole count but for rounding errors is one.
  return { cut: Math.ceil(Number((level - Math.max(entry, z * noise)).toFixed(9))) - 1, weight };
}

function isOther(a: number, b: number): boolean { return Math.abs(a - b) > DEPTH_MOVED * b; }

/** Counts within which the one shown most often is looked for. */
const NEAR = 16;

/** For `cellsOf`, which is asked too often for one of its own. */
const nearby = new Float64Array(2 * NEAR + 1);

/** Readings by count about the one shown most often; null where they reach farther than a steady level does on a coarse display. */
function cellsOf(shown: Float64Array, filled: number): { mode: number; cells: Float64Array } | null {
  if (filled === 0) return null;
  const first = (shown[0] as number) - NEAR;
  const times = nearby.fill(0);
  for (let k = 0; k < filled; k++) {
    const at = (shown[k] as number) - first;
    if (at < 0 || at > 2 * NEAR) return null;
    times[at] = (times[at] as number) + 1;
  }
  let most = 0;
  for (let at = 1; at < times.length; at++) if ((times[at] as number) > (times[most] as number)) most = at;
  const cells = new Float64Array(CELLS);
  for (let at = 0; at < times.length; at++) {
    if (times[at] === 0) continue;
    const cell = at - most + REACH;
    if (cell < 0 || cell >= CELLS) return null;
    cells[cell] = times[at] as number;
  }
  return { mode: first + most, cells };
}

/** The cells so many counts further up; none of them is shifted out. */
function shifted(cells: Float64Array, shift: number): Float64Array {
  if (shift === 0) return cells;
  const moved = new Float64Array(CELLS);
  for (let c = 0; c < CELLS; c++) moved[c] = cells[c - shift] ?? 0;
  return moved;
}

function sum(values: Float64Array): number {
  let total = 0;
  for (const value of values) total += value;
  return total;
}

/** Of two counts that are shown alike often, now the one leads and now the other. */
const SHIFTS = [0, -1, 1];

function isAlike({ statistic, freedom }: { statistic: number; freedom: number }): boolean { return statistic < (DIFFERENT[freedom] ?? Infinity); }

/** Likelihood ratio statistic of two sets of counts having the same shares, the second shifted up by so many, and its degrees of freedom. */
function difference(a: Float64Array, b: Float64Array, shift: number): { statistic: number; freedom: number } {
  const inA = sum(a);
  const inB = sum(b);
  let statistic = 0;
  let freedom = -1;
  for (let c = -1; c <= CELLS; c++) {
    const n = a[c] ?? 0;
    const m = b[c - shift] ?? 0;
    if (n + m === 0) continue;
    // Shifted out.
    if (c < 0 || c === CELLS) return { statistic: Infinity, freedom: 1 };
    freedom++;
    const share = (n + m) / (inA + inB);
    if (n > 0) statistic += 2 * n * Math.log(n / (share * inA));
    if (m > 0) statistic += 2 * m * Math.log(m / (share * inB));
  }
  return { statistic, freedom };
}
