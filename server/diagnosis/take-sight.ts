/**
 * What a take would have caught as a whole: noise and threshold are learned and change while it runs, so the chance of catching a
 * dropout that may come at any moment of it is the mean of the chances at its moments. Rates and limits over the take divide by this one.
 */
import { catchChance } from './visibility.ts';
import type { MeterView } from './visibility.ts';

/** What is in force at one moment, SI; `depth` is how far a full dropout goes. */
export interface Moment {
  readonly entry: number;
  readonly noise: number;
  readonly resolution: number;
  readonly depth: number;
}

/** Ratios are kept in steps of this factor: a change within one moves a chance by less than 0.006. */
const FIRST_STEP = 1.0025;
/** Combinations kept; beyond it the steps are made twice as wide. */
const MOST_KEPT = 512;

interface Kept {
  /** In steps of the depth. */
  readonly entry: number;
  readonly noise: number;
  readonly resolution: number;
  weight: number;
  /** Chance that was worked out last, and for what. */
  chance: number;
  asked: string;
}

export class TakeSight {
  #step = Math.log(FIRST_STEP);
  #kept = new Map<string, Kept>();
  #weight = 0;
  /** The chance is remembered: it changes only with what it is asked for, and with what was noted. */
  #last = { asked: '', noted: -1, chance: Number.NaN };
  #noted = 0;

  /** @param weight  readings that were judged so (> 0) */
  note({ entry, noise, resolution, depth }: Moment, weight: number): void {
    if (!(depth > 0 && entry > 0 && noise >= 0 && weight > 0)) return;
    const steps = (value: number): number => (value > 0 ? Math.round(Math.log(value / depth) / this.#step) : Number.NEGATIVE_INFINITY);
    this.#add({ entry: steps(entry), noise: steps(noise), resolution: steps(resolution), weight, chance: Number.NaN, asked: '' });
    this.#weight += weight;
    this.#noted++;
    if (this.#kept.size > MOST_KEPT) this.#coarsen();
  }

  /**
   * Mean chance of catching a full dropout of `length` s that comes at any moment of what was noted.
   * @param z  noise deviations that a departure needs to be listed, as all noise seen by now shows
   * @returns null when nothing was noted
   */
  chance(length: number, { interval, aperture }: Pick<MeterView, 'interval' | 'aperture'>, z: number): number | null {
    if (this.#weight === 0) return null;
    const least = Math.exp(Math.round(Math.log(z) / this.#step) * this.#step);
    const asked = `${length},${interval},${aperture},${least}`;
    if (this.#last.asked === asked && this.#last.noted === this.#noted) return this.#last.chance;
    let sum = 0;
    for (const kept of this.#kept.values()) {
      if (kept.asked !== asked) {
        kept.asked = asked;
        const of = (steps: number): number => Math.exp(steps * this.#step);
        const noise = of(kept.noise);
        kept.chance = catchChance(length, { interval, aperture, depth: 1, noise, resolution: of(kept.resolution), threshold: Math.max(of(kept.entry), least * noise) });
      }
      sum += kept.weight * kept.chance;
    }
    this.#last = { asked, noted: this.#noted, chance: Math.min(1, sum / this.#weight) };
    return this.#last.chance;
  }

  #add(one: Kept): void {
    const key = `${one.entry},${one.noise},${one.resolution}`;
    const known = this.#kept.get(key);
    if (known === undefined) this.#kept.set(key, one);
    else known.weight += one.weight;
  }

  #coarsen(): void {
    const old = [...this.#kept.values()];
    this.#kept = new Map();
    this.#step *= 2;
    for (const kept of old) {
      this.#add({ ...kept, entry: Math.round(kept.entry / 2), noise: Math.round(kept.noise / 2), resolution: Math.round(kept.resolution / 2), chance: Number.NaN, asked: '' });
    }
  }
}
