/**
 * Four ways from the textbooks, each with its threshold as the one thing to choose:
 * a threshold at a part of the level; Shewhart's individuals chart (k sigma); the tabular CUSUM (Page; Montgomery 9.1, k = 0.5);
 * a rolling median with MAD (Hampel). Mean and deviation come from the readings before, as a live instrument would have to.
 * All look one way where the check has one bad direction, as the detector does, and their alarms are merged like its own.
 */
import { TabularCusum } from './cusum.ts';
import { Flag } from '../../../drivers/reading.ts';
import { badDirection } from '../../../server/diagnosis/index.ts';
import type { SampleColumns } from '../../../server/diagnosis/index.ts';
import type { StreamParameters } from '../../signals/index.ts';
import type { Alarm } from './truth.ts';

export interface Way { readonly name: string; readonly thresholds: readonly number[]; statistic(samples: SampleColumns, p: StreamParameters): Float64Array }

/** Size of a reading's departure in the bad direction against `level`; Infinity for over-range. */
function departures(samples: SampleColumns, p: StreamParameters): (i: number, level: number) => number {
  const direction = badDirection(p.check, p.quantity, { low: null, high: null }, p.level);
  return (i, level) => {
    if (((samples.flags[i] as number) & Flag.overRange) !== 0) return Infinity;
    const change = (samples.value[i] as number) - level;
    return direction === 'both' ? Math.abs(change) : direction === 'up' ? change : -change;
  };
}

const isNumber = (samples: SampleColumns, i: number): boolean => (samples.flags[i] as number) === 0;
const hasData = (samples: SampleColumns, i: number): boolean => ((samples.flags[i] as number) & ~Flag.overRange) === 0;

export const WAYS: readonly Way[] = [
  {
    name: 'part of the level', thresholds: [0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 0.9],
    statistic(samples, p) {
      const departure = departures(samples, p);
      // A part of the whole way to the open circuit, which is handed over: 0.5 is the half-level rule.
      const whole = p.quantity === 'resistance' ? p.fullScale - p.level : Math.abs(p.level);
      return Float64Array.from({ length: samples.length }, (_, i) => (hasData(samples, i) ? departure(i, p.level) / whole : 0));
    },
  },
  {
    name: 'k sigma', thresholds: [3, 4, 5, 6, 8, 12, 20, 40, 100],
    statistic(samples, p) {
      const departure = departures(samples, p);
      const result = new Float64Array(samples.length);
      const ring = new Float64Array(200);
      let n = 0;
      let sum = 0;
      let squares = 0;
      const origin = p.level;
      for (let i = 0; i < samples.length; i++) {
        if (!hasData(samples, i)) continue;
        const used = Math.min(n, ring.length);
        const mean = used > 0 ? sum / used : 0;
        const deviation = used > 1 ? Math.sqrt(Math.max(0, squares / used - mean * mean)) : 0;
        if (used >= 20) result[i] = departure(i, origin + mean) / Math.max(deviation, p.count / Math.sqrt(12));
        if (!isNumber(samples, i)) continue;
        const y = (samples.value[i] as number) - origin;
        const old = n >= ring.length ? (ring[n % ring.length] as number) : 0;
        sum += y - old;
        squares += y * y - old * old;
        ring[n % ring.length] = y;
        n++;
      }
      return result;
    },
  },
  {
    name: 'rolling median and MAD', thresholds: [3, 4, 5, 6, 8, 10, 15, 25, 50, 100, 300],
    statistic(samples, p) {
      const departure = departures(samples, p);
      const result = new Float64Array(samples.length);
      const window = 31;
      const ring: number[] = [];
      const sorted: number[] = [];
      for (let i = 0; i < samples.length; i++) {
        if (!hasData(samples, i)) continue;
        if (sorted.length === window) {
          const median = sorted[window >> 1] as number;
          result[i] = departure(i, median) / Math.max(1.4826 * madOfSorted(sorted, median), p.count / Math.sqrt(12));
        }
        if (!isNumber(samples, i)) continue;
        const y = samples.value[i] as number;
        if (ring.length === window) sorted.splice(lowerBound(sorted, ring.shift() as number), 1);
        ring.push(y);
        sorted.splice(lowerBound(sorted, y), 0, y);
      }
      return result;
    },
  },
];

/** The tabular CUSUM keeps a sum that an alarm resets, so each threshold is its own run. */
export const CUSUM_THRESHOLDS: readonly number[] = [4, 5, 8, 12, 20, 40, 80, 200, 1000];

export function cusumAlarms(samples: SampleColumns, p: StreamParameters, threshold: number): Alarm[] {
  const departure = departures(samples, p);
  const direction = badDirection(p.check, p.quantity, { low: null, high: null }, p.level);
  const first: number[] = [];
  const alarms: Alarm[] = [];
  let mean = p.level;
  let deviation = p.noise;
  const sums = new TabularCusum();
  let from = Number.NaN;
  for (let i = 0; i < samples.length; i++) {
    if (!hasData(samples, i)) continue;
    // In control: mean and deviation of the first hundred readings (phase I).
    if (first.length < 100) {
      if (isNumber(samples, i)) first.push(samples.value[i] as number);
      if (first.length === 100) {
        mean = first.reduce((a, b) => a + b, 0) / 100;
        deviation = Math.max(Math.sqrt(first.reduce((a, b) => a + (b - mean) ** 2, 0) / 99), p.count / Math.sqrt(12));
      }
      continue;
    }
    const time = samples.time[i] as number;
    const size = departure(i, mean) / deviation;
    const signed = direction === 'both' && isNumber(samples, i) ? ((samples.value[i] as number) - mean) / deviation : size;
    sums.add(signed, direction === 'both' ? -signed : 0);
    if (sums.isBeyond(threshold)) {
      add(alarms, Number.isNaN(from) ? time - p.interval : from, time, p);
      sums.restart();
    }
    if (sums.high === 0 && sums.low === 0) from = Number.NaN;
    else if (Number.isNaN(from)) from = time - p.interval;
  }
  return alarms;
}

export function alarmsOver(statistic: Float64Array, samples: SampleColumns, p: StreamParameters, threshold: number): Alarm[] {
  const alarms: Alarm[] = [];
  for (let i = 0; i < samples.length; i++) {
    if ((statistic[i] as number) > threshold) add(alarms, (samples.time[i] as number) - p.interval, samples.time[i] as number, p);
  }
  return alarms;
}

/** Merges as the definitions say: closer than 2.5 intervals or 0.1 s is one. */
function add(alarms: Alarm[], start: number, end: number, p: StreamParameters): void {
  const last = alarms.at(-1);
  if (last !== undefined && start - last.end <= Math.max(2.5 * p.interval, 0.1)) alarms[alarms.length - 1] = { start: last.start, end };
  else alarms.push({ start, end });
}

function lowerBound(sorted: readonly number[], value: number): number {
  let low = 0;
  let high = sorted.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((sorted[middle] as number) < value) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** Median of |x - median| of sorted values: walk outwards from the middle, nearest first. */
function madOfSorted(sorted: readonly number[], median: number): number {
  const n = sorted.length;
  let left = (n >> 1) - 1;
  let right = n >> 1;
  let size = 0;
  for (let k = 0; k <= n >> 1; k++) {
    const below = left >= 0 ? median - (sorted[left] as number) : Infinity;
    const above = right < n ? (sorted[right] as number) - median : Infinity;
    if (below < above) { size = below; left--; } else { size = above; right++; }
  }
  return size;
}
