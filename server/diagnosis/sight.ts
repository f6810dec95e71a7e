/**
 * What this meter would have seen at this check, in the numbers that stand beside a verdict: the chance of catching dropouts of
 * given lengths, the length that is caught almost always, and the smallest series resistance that shows. Formulas: visibility.ts.
 */
import { METER_INPUT_OHMS } from './circuit/index.ts';
import type { ChanceRange, CoarseSight } from './coarse-sight.ts';
import type { JudgeSetup } from './judgement.ts';
import { inLogSteps } from './log-steps.ts';
import { SHARP, USUAL_SUPPLY, worstView } from './silence.ts';
import type { Watch } from './silence.ts';
import { catchChance, lengthAtChance, lengthCaughtWith, smallestVisibleSeriesOhms } from './visibility.ts';
import type { MeterView } from './visibility.ts';

export interface Sight {
  /**
   * Chance of catching one full dropout of each length (s), at the worst aperture that the meter may have: the lowest that fits what was shown, and, where a
   * coarse display leaves it open, the highest.
   */
  readonly catching: readonly { readonly length: number; readonly chance: number; readonly atMost?: number }[];
  /** Shortest full dropout that is caught with 95 %, noise and dead time included, s; null when none up to 10 s is. */
  readonly caughtLength: number | null;
  readonly visibleSeries: VisibleSeries | null;
}

/** The smallest resistance in series whose coming would be noticed, ohm. */
export interface VisibleSeries {
  /** With the load of the check; null when it is not known, or none shows. */
  readonly withLoad: number | null;
  /** With nothing but the meter drawing current; null when none shows. */
  readonly meterAlone: number | null;
}

/** Lengths for which the chance is told, s. */
export const TOLD_LENGTHS: readonly number[] = [0.001, 0.01, 0.1, 1];
export const CAUGHT_CHANCE = 0.95;

/** Steps in which noise and level are followed, as a factor: what they change within one is below a hundredth of a chance. */
const STEP = Math.log(1.005);

/** Remembers what it worked out last: noise and level hardly move from one reading to the next. */
export class SightFinder {
  #key = '';
  #chances: Pick<Sight, 'catching' | 'caughtLength'> = { catching: [], caughtLength: null };

  /**
   * @param z  noise deviations that a departure needs to be listed @param coarse  what a coarse display shows
   * @returns null when nothing can be said of dropouts: no interval, threshold or depth yet
   */
  sight(watch: Watch, z: number, coarse: CoarseSight['now'] = null): Sight | null {
    const view = worstView(watch);
    if (view === null) return null;
    const rounded = inSteps(view);
    // Of a coarse display it is known what it showed.
    const { interval, aperture } = rounded;
    const least = inLogSteps(z, STEP);
    const key = coarse === null ? Object.values(rounded).join() : [coarse.version, interval, aperture, least].join();
    if (key !== this.#key) {
      this.#key = key;
      this.#chances = coarse === null ? {
        catching: TOLD_LENGTHS.map((length) => ({ length, chance: catchChance(length, rounded) })),
        caughtLength: lengthCaughtWith(CAUGHT_CHANCE, rounded),
      } : {
        catching: TOLD_LENGTHS.map((length) => ({ length, ...chanceSaid(coarse.range(length, { interval, aperture }, least)) })),
        caughtLength: lengthAtChance(CAUGHT_CHANCE, (length) => coarse.range(length, { interval, aperture }, least).low, 10, 0.002),
      };
    }
    return { ...this.#chances, visibleSeries: visibleSeries(watch) };
  }
}

/** A range of chances as it is told. */
function chanceSaid({ low, high }: ChanceRange): { chance: number; atMost?: number } {
  return { chance: low, ...(high - low > SHARP ? { atMost: high } : {}) };
}

/** In units of the depth, on which alone the chances depend. */
function inSteps({ interval, aperture, threshold, depth, noise, resolution }: MeterView): MeterView {
  const near = (value: number): number => (value > 0 ? inLogSteps(value / depth, STEP) : 0);
  return { interval, aperture, depth: 1, threshold: near(threshold), noise: near(noise), resolution: near(resolution) };
}

/**
 * In ohms a resistance adds to the reading, so that the threshold itself is the smallest that shows. In volts it takes its part of the supply,
 * R = R_load h / (V - h), at the load (supply checks: V is the level) and across the resistance (drops and ground: V is the supply). In
 * amperes it takes its part of the current, R = R_load h / (I - h).
 */
function visibleSeries({ setup, quantity, level, threshold }: Watch): VisibleSeries | null {
  if (quantity === 'resistance') return { withLoad: threshold, meterAlone: threshold };
  if (quantity !== 'voltage' && quantity !== 'current') return null;
  const { ohms, volts } = loadOf(setup);
  const size = Math.abs(level);
  const least = (from: number, load: number | null): number | null => (load === null || !(from > 0) ? null : smallestVisibleSeriesOhms(from, threshold, load));
  if (quantity === 'current') return { withLoad: least(size, ohms ?? (size > 0 ? volts / size : null)), meterAlone: null };
  if (setup.kind === 'supply' || setup.kind === 'switched-supply' || setup.kind === 'sensor-sweep') {
    return { withLoad: least(size, ohms), meterAlone: least(size, METER_INPUT_OHMS) };
  }
  if (setup.kind === 'ground' || setup.kind === 'voltage-drop' || setup.kind === 'fuse') {
    // Without a current there is no drop to see.
    return { withLoad: least(volts, ohms), meterAlone: null };
  }
  return null;
}

function loadOf({ load, supply }: JudgeSetup): { ohms: number | null; volts: number } {
  return { ohms: load?.ohms ?? null, volts: load?.volts ?? supply ?? USUAL_SUPPLY };
}
