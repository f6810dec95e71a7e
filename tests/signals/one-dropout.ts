/** One dropout as one meter shows it, drawn from the prior that the length estimate states: any decade of length from 0.1 ms to 10 s alike. */
import { entryThresholdZ } from '../../server/diagnosis/distributions.ts';
import type { DepartureReadings, DurationView } from '../../server/diagnosis/duration.ts';
import type { Random } from './random.ts';

export const METER_KINDS = ['no dead time', 'dead time', 'coarse display', 'logger', 'averaging'] as const;
export type MeterKind = (typeof METER_KINDS)[number];

export interface OneDropout {
  readonly length: number;
  readonly readings: DepartureReadings;
  readonly view: DurationView;
}

const FULL_DEPTH = 12;

/** @returns null when the meter shows nothing beyond its threshold */
export function drawDropout(kind: MeterKind, random: Random): OneDropout | null {
  const interval = kind === 'logger' ? 1e-3 : random.logBetween(0.01, 0.6);
  const aperture = interval * (kind === 'no dead time' || kind === 'averaging' ? 1 : random.between(0.15, 1));
  const filterWeight = kind === 'averaging' ? random.between(0.25, 0.8) : 1;
  const resolution = kind === 'coarse display' ? FULL_DEPTH * random.logBetween(0.002, 0.05) : 0;
  const analog = FULL_DEPTH * (kind === 'coarse display' ? random.logBetween(1e-4, 1e-3) : random.logBetween(1e-4, 1e-2));
  const noise = Math.hypot(analog, resolution / Math.sqrt(12));
  const threshold = Math.max(entryThresholdZ(interval) * noise, 1.5 * resolution);
  const depth = random.chance(0.5) ? FULL_DEPTH : random.logBetween(threshold, FULL_DEPTH);
  const length = random.logBetween(1e-4, 10);
  const start = (6 + random.uniform()) * interval;
  const levelOffset = random.between(-0.5, 0.5) * resolution;

  const ends: number[] = [];
  const departures: number[] = [];
  let averaged = 0;
  const count = 12 + Math.ceil(length / interval) + Math.ceil(12 / filterWeight);
  for (let i = 0; i < count; i++) {
    const end = (i + 1) * interval;
    const overlap = Math.max(0, Math.min(start + length, end) - Math.max(start, end - aperture));
    averaged += filterWeight * ((depth * overlap) / aperture - averaged);
    const signal = averaged + levelOffset + analog * random.gauss();
    ends.push(end);
    departures.push(resolution === 0 ? signal : Math.round(signal / resolution) * resolution);
  }
  const first = departures.findIndex((departure) => departure > threshold);
  if (first < 0) return null;
  const last = departures.findLastIndex((departure) => departure > threshold);
  return {
    length,
    readings: { ends, departures, first, last },
    view: { interval, aperture, averaging: [{ weight: filterWeight, chance: 1 }], noise, resolution, threshold, fullDepth: FULL_DEPTH },
  };
}
