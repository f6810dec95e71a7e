/** A meter's aperture, measured while its user taps a steady voltage with the lead: see diagnosis/aperture.ts. Pure. */
import type { Reading } from '../../drivers/reading.ts';
import { findTapEdges, measureAperture } from '../diagnosis/index.ts';

export interface ApertureStanding {
  /** Edges seen that count. */
  readonly edges: number;
  /** Edges still wanted; null while there are too few to say. */
  readonly edgesNeeded: number | null;
  /** Aperture with exact 95 % limits, s; null while there are too few edges. */
  readonly aperture: { readonly estimate: number; readonly low: number; readonly high: number } | null;
  /** The meter averages over several readings: an aperture alone does not describe it. */
  readonly isAveraging: boolean;
  /** Most taps are too short to count. */
  readonly isTooShort: boolean;
}

/** About 17 minutes at 100 readings/s: more is not looked through every second. */
const MOST_READINGS = 100_000;
/** Edges that a first figure takes. */
const FIRST_EDGES = 10;
/** So many times to and fro before it is said that taps are too short. */
const FEWEST_CROSSINGS = 6;

export class ApertureWatch {
  readonly #times: number[] = [];
  readonly #values: number[] = [];
  #seenAt = -1;
  #standing: ApertureStanding = { edges: 0, edgesNeeded: null, aperture: null, isAveraging: false, isTooShort: false };

  /** @param times  ends of the readings, s */
  push(readings: readonly Reading[], times: Float64Array): void {
    for (let i = 0; i < readings.length && this.#times.length < MOST_READINGS; i++) {
      this.#times.push(times[i] as number);
      this.#values.push((readings[i] as Reading).value);
    }
  }

  /** @param interval  sample interval, s; null while not known */
  standing(interval: number | null): ApertureStanding {
    if (interval === null || this.#times.length === this.#seenAt) return this.#standing;
    this.#seenAt = this.#times.length;
    const taps = findTapEdges(this.#times, this.#values, interval);
    const measured = taps === null ? null : measureAperture(taps.edges, taps.noise);
    const isTooShort = taps !== null && taps.crossings >= FEWEST_CROSSINGS && taps.edges.length < taps.crossings / 2;
    this.#standing = measured === null
      ? { edges: taps?.edges.length ?? 0, edgesNeeded: taps === null ? null : Math.max(0, FIRST_EDGES - taps.edges.length), aperture: null, isAveraging: false, isTooShort }
      : {
        edges: measured.edges, edgesNeeded: measured.edgesNeeded, isAveraging: measured.isAveraging, isTooShort,
        aperture: { estimate: measured.part * interval, low: measured.low * interval, high: measured.high * interval },
      };
    return this.#standing;
  }
}
