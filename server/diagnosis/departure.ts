/** A departure: the reading away from its level, from its first reading to its return, and what it turns out to be. */
import type { WayBack } from './loads-off.ts';

/** Readings of a departure that are remembered from its beginning, for its shape, and as many from its end. */
const SHAPE = 16;
/** Quiet readings kept on both sides, for estimating its length. */
export const QUIET_AROUND = 3;

/** Part of the peak that is next to nothing against it. What comes first is then no part of the departure; where it stands, the peak is none. */
export const NOTHING = 0.1;

/** Readings with the time of their end, s, and their size in the bad direction, SI; NaN for over-range. */
interface Trail { readonly ends: number[]; readonly sizes: number[] }

/** One departure, growing. `bad` sizes are in the bad direction, SI, positive; Infinity for over-range. */
export class Departure {
  /** End of the first reading that was away, s. */
  first: number;
  /** Level when it left, SI; NaN when the level was over-range. */
  readonly level: number;
  /** Noise s and threshold in force when it left. */
  readonly noise: number;
  readonly threshold: number;
  /** The same noise, or, where that turned out larger, the noise just after it came back, SI: what it must stand out from. */
  noiseAround: number;
  /** End of the last reading that was away, s. */
  last: number;
  /** Readings that were away. */
  readings = 0;
  /** Departures merged into this one. */
  count = 1;
  /** Farthest reading: its size, and its signed difference from the level. */
  peak = 0;
  peakChange = 0;
  overRange = false;
  /** On a signal that moves: the smaller of the jumps with which it began and ended, SI; else Infinity. */
  edge = Infinity;
  /** Value of one count of the quiet readings before it, SI; NaN when not known, or when it had just changed. */
  rangeBefore = Number.NaN;
  /** It began after loads had gone off: sizes of it with which they have come back. */
  waysBack: readonly WayBack[] = [];
  /** Its readings stood still for a while: that was no noise. */
  hasStood = false;
  /** The shorter of two stays between which the signal went to and fro: a contact chattered, and no noise. */
  alternates = false;
  /** Understood differently since: no departure after all. */
  isWithdrawn = false;
  /** Farthest excursion the other way within the merge time of it: interference goes both ways. */
  opposite = 0;
  readonly #shape: number[] = [];
  /** One of those merged into this one was a plateau. */
  #hasPlateau = false;
  readonly #before: Trail;
  readonly #head: Trail = { ends: [], sizes: [] };
  readonly #rest: Trail = { ends: [], sizes: [] };
  /** The newest readings, almost back at the level; null for none, as in most. */
  #near: Trail | null = null;
  #quietAfter = 0;

  /** @param before  the quiet readings before it, oldest first */
  constructor(first: number, level: number, noise: number, threshold: number, before: Trail) {
    this.#before = before;
    this.first = first;
    this.last = first;
    this.level = level;
    this.noise = noise;
    this.noiseAround = noise;
    this.threshold = threshold;
  }

  /** @param change  signed difference from the level, SI; Infinity for over-range @param size  the same in the bad direction */
  add(time: number, change: number, size: number, overRange: boolean): void {
    // What was next to nothing against this reading was noise just before it, and is no part of it.
    if (!this.hasStood && this.readings > 0 && this.peak < NOTHING * size) this.#beginAt(time);
    this.last = time;
    this.readings++;
    this.#quietAfter = 0;
    this.#keepNear();
    this.#keep(time, overRange ? Number.NaN : size);
    if (this.#shape.length < SHAPE) this.#shape.push(size);
    if (overRange) this.overRange = true;
    if (size > this.peak) {
      this.peak = size;
      this.peakChange = change;
    }
  }

  #beginAt(time: number): void {
    this.first = time;
    this.readings = 0;
    this.#shape.length = 0;
    // What comes before it, all the same: the first reading may hold but a little of it.
    for (const key of ['ends', 'sizes'] as const) this.#before[key].splice(0, Infinity, ...[...this.#before[key], ...this.#head[key], ...this.#rest[key]].slice(-QUIET_AROUND));
    this.#head.ends.length = 0;
    this.#head.sizes.length = 0;
    this.#rest.ends.length = 0;
    this.#rest.sizes.length = 0;
  }

  /** A reading almost back at the level: whether it has returned is not known yet. */
  addNear(time: number, size: number): void {
    const near = this.#near ??= { ends: [], sizes: [] };
    near.ends.push(time);
    near.sizes.push(size);
    if (near.ends.length > SHAPE) this.#keepNear();
  }

  /** It has not returned, but stands elsewhere, almost back: that is no part of it. */
  forgetNear(): void { this.#near = null; }

  #keepNear(): void {
    const near = this.#near;
    if (near === null) return;
    for (let i = 0; i < near.ends.length; i++) this.#keep(near.ends[i] as number, near.sizes[i] as number);
    this.#near = null;
  }

  /** A quiet reading after its return: it may say where the last one ended. */
  addQuiet(time: number, size: number): void {
    this.#keepNear();
    if (this.#quietAfter++ < QUIET_AROUND) this.#keep(time, size);
  }

  /** More quiet readings say nothing of where it ended. */
  get hasEnded(): boolean { return this.#quietAfter >= QUIET_AROUND; }

  /** The middle of a long departure says nothing about its length: its first and last readings are kept. */
  #keep(time: number, size: number): void {
    const trail = this.#head.ends.length < SHAPE ? this.#head : this.#rest;
    trail.ends.push(time);
    trail.sizes.push(size);
    if (trail === this.#rest && trail.ends.length > SHAPE + QUIET_AROUND) {
      trail.ends.shift();
      trail.sizes.shift();
    }
  }

  /** What it stood at was next to nothing against dropouts upon it, which count by themselves: its readings as if they had stayed there. @param size  SI */
  cutTo(size: number): void {
    const cut = (sizes: number[]): void => sizes.forEach((one, i) => { sizes[i] = one < size ? one : size; });
    for (const sizes of [this.#shape, this.#head.sizes, this.#rest.sizes]) cut(sizes);
    this.peak = size;
    this.peakChange = Math.sign(this.peakChange) * size;
    this.overRange = false;
  }

  /** Joins one that began within the merge time of this one's end. */
  merge(later: Departure): void {
    const wasNothing = this.peak < NOTHING * later.peak;
    // Each part for itself: short ones in quick succession are none.
    const isPlateau = later.isPlateau || (!wasNothing && this.isPlateau);
    if (wasNothing) {
      this.#beginAt(later.first);
      for (const key of ['ends', 'sizes'] as const) this.#before[key].splice(0, Infinity, ...later.#before[key]);
      this.count = 0;
    }
    this.opposite = Math.max(this.opposite, later.opposite);
    this.last = later.last;
    this.readings += later.readings;
    this.count += later.count;
    this.overRange ||= later.overRange;
    const { ends, sizes, first } = later.trail();
    for (let i = first; i < ends.length; i++) this.#keep(ends[i] as number, sizes[i] as number);
    this.#quietAfter = 0;
    if (wasNothing) this.#shape.push(...later.#shape);
    this.#hasPlateau = isPlateau;
    this.edge = Math.max(this.edge, later.edge);
    if (later.peak > this.peak) {
      this.peak = later.peak;
      this.peakChange = later.peakChange;
    }
  }

  /** Quiet readings before, the departure, quiet readings after; with the indices of its first and last reading. */
  trail(): { ends: number[]; sizes: number[]; first: number; last: number } {
    const ends = [...this.#before.ends, ...this.#head.ends, ...this.#rest.ends];
    const sizes = [...this.#before.sizes, ...this.#head.sizes, ...this.#rest.sizes];
    return { ends, sizes, first: this.#before.ends.length, last: ends.lastIndexOf(this.last) };
  }

  /** The level that it left was over-range: something closed. */
  get fromOverRange(): boolean { return this.level !== this.level; }

  /** Size of the first and the last reading against the peak, for dating: how far into them the signal was away. */
  get firstPart(): number { return this.peak > 0 && Number.isFinite(this.peak) ? Math.min(1, (this.#shape[0] ?? 0) / this.peak) : 1; }

  /**
   * True for three readings or more on a plateau: then the signal itself was no deeper than that. A peak that decays by itself,
   * reading after reading, as a filtering meter shows a short open, is none.
   */
  get isPlateau(): boolean {
    if (this.#hasPlateau) return true;
    const shape = this.#shape;
    // A last reading just short of the threshold may be noise: only what is clearly away counts.
    const least = Math.max(this.threshold, 0.1 * this.peak);
    let away = 0;
    for (const size of shape) if (size > least) away++;
    if (away < 3) return false;
    const at = shape.indexOf(Math.max(...shape));
    if (at > 1 || shape.length - at < 3) return true;
    for (let i = at + 1; i < shape.length; i++) {
      const ratio = (shape[i] as number) / (shape[i - 1] as number);
      if (ratio > 0.85) return true;
    }
    return false;
  }
}
