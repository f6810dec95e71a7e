/** Uncertainty of a hand-held meter that ranges by itself. */
import type { Accuracy } from '../diagnosis/judgement.ts';

export interface MeterClass {
  /** Counts of the display, e.g. 6000: the range is the smallest 6 x 10^n that holds the value. */
  readonly displayCounts: number;
  readonly volts: Accuracy;
  readonly ohms: Accuracy;
  /** Smallest ohms range, and smallest volts range, SI. */
  readonly leastOhms: number;
  readonly leastVolts: number;
}

/** A plain hand-held meter of 6000 counts (common practice, no source). */
export const HAND_HELD: MeterClass = { displayCounts: 6000, volts: { fraction: 0.005, counts: 3 }, ohms: { fraction: 0.01, counts: 3 }, leastOhms: 600, leastVolts: 0.6 };

/** Value of one count where the meter shows this value, SI. */
export function countAt(meter: MeterClass, quantity: 'voltage' | 'resistance', value: number): number {
  let range = quantity === 'voltage' ? meter.leastVolts : meter.leastOhms;
  while (Math.abs(value) > range && range < 1e9) range *= 10;
  return range / meter.displayCounts;
}

/**
 * Standard uncertainty of a reading, SI: the limit of error, fraction of reading plus counts, taken as evenly
 * spread, so divided by root 3 (GUM 4.3.7).
 */
export function standardUncertainty(meter: MeterClass, quantity: 'voltage' | 'resistance', value: number): number {
  const { fraction, counts } = quantity === 'voltage' ? meter.volts : meter.ohms;
  const size = Number.isFinite(value) ? Math.abs(value) : 0;
  return (fraction * size + counts * countAt(meter, quantity, size)) / Math.sqrt(3);
}
