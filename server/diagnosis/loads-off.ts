/**
 * Loads that have just gone off. Beside a shared ground that lowers the drop, the good way; when the load comes back the reading rises by
 * as much, and that is no dropout. A rise to anywhere else is a departure like any other.
 */
import type { Limits } from './judgement.ts';

/** Of those that went off last so many are remembered, and every sum of them may come back together. */
const REMEMBERED = 4;
/** Part of its step by which a load may differ when it comes back: its voltage and temperature are not quite the same (common practice, no source). */
const ALIKE = 0.05;

/** What a load's going off did to the level. */
interface Fall { readonly time: number; readonly before: number; size: number }

/** A size of rise that would be one load, or several, coming back, SI; and how far from it a reading may be. */
export interface WayBack { readonly size: number; readonly tolerance: number; readonly falls: readonly Fall[] }

export function leadsBack(ways: readonly WayBack[], size: number): WayBack | undefined {
  return ways.find((way) => Math.abs(size - way.size) <= way.tolerance);
}

/** The same for the farthest reading of a rise: that may be as far again from where it stands. */
export function mayLeadBack(ways: readonly WayBack[], peak: number): boolean {
  return ways.some((way) => Math.abs(peak - way.size) <= 2 * way.tolerance);
}

export class LoadsOff {
  readonly #limits: Limits;
  /** How long each is remembered, s: until the level without it has stood for as long as a shift takes. */
  readonly #memory: number;
  #falls: Fall[] = [];
  /** The level now is the one after the newest fall. */
  #isFresh = false;

  constructor(limits: Limits, memory: number) {
    this.#limits = limits;
    this.#memory = memory;
  }

  /**
   * The level has moved the good way. From outside the limits that was no load: a fault has healed, and may come back.
   * @param time  s @param before  level, SI @param after  the same
   */
  add(time: number, before: number, after: number): void {
    const { low, high } = this.#limits;
    if ((low !== null && before < low) || (high !== null && before > high)) return;
    this.#falls.push({ time, before, size: Math.abs(before - after) });
    this.#isFresh = true;
    if (this.#falls.length > REMEMBERED) this.#falls.shift();
  }

  /** The level has moved otherwise. */
  levelMoved(): void { this.#isFresh = false; }

  /** The level now is better known than it was just after it had moved, SI. */
  refine(level: number): void {
    const newest = this.#falls.at(-1);
    if (this.#isFresh && newest !== undefined) newest.size = Math.abs(newest.before - level);
  }

  /** Rises from the level at `time` (s) that lead back. @param tolerance  of a reading, SI */
  waysBack(time: number, tolerance: number): WayBack[] {
    this.#falls = this.#falls.filter((fall) => time - fall.time <= this.#memory);
    const ways: WayBack[] = [];
    for (const fall of this.#falls) {
      for (const { size, falls } of [{ size: 0, falls: [] }, ...ways]) {
        const whole = size + fall.size;
        ways.push({ size: whole, tolerance: Math.max(tolerance, ALIKE * whole), falls: [...falls, fall] });
      }
    }
    return ways;
  }

  /** These have come back. */
  cameBack({ falls }: WayBack): void { this.#falls = this.#falls.filter((fall) => !falls.includes(fall)); }
}
