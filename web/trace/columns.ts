/**
 * A long series as a line that a screen can draw: per pixel column the first, smallest, largest and last value, each at
 * its own time, so that a one-sample dropout survives every zoom. Gaps stay gaps, and over-range stays visible. Pure.
 *
 *     samples   . . : .  '  . .      | . . .        ' beyond range
 *     line      ───┐ ┌──        gap  ──────
 *     beyond            ▓▓
 */
import { Flag } from '../../drivers/reading.ts';

export interface Series {
  readonly length: number;
  readonly time: Float64Array;
  readonly value: Float64Array;
  readonly flags: Uint16Array;
  /** 1 where the line must not be joined to the sample before. */
  readonly breakBefore: Uint8Array;
}

export interface View {
  /** Session clock, s. */
  readonly from: number;
  readonly to: number;
  /** Width, pixel columns. */
  readonly columns: number;
}

export interface TraceLine {
  /** Points in order of time; y is NaN where the line is broken. */
  readonly points: { x: number; y: number }[];
  /** Stretches beyond the meter's range. */
  readonly beyond: { from: number; to: number }[];
  /** Smallest and largest value in view; null when there is none. */
  readonly extent: { low: number; high: number } | null;
}

/** More breaks than this in one pixel column look the same. */
const BREAKS_A_COLUMN = 2;

/** Index of the first time that is not before `at`. */
export function firstFrom(time: Float64Array, length: number, at: number): number {
  let low = 0;
  let high = length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (time[middle]! < at) low = middle + 1;
    else high = middle;
  }
  return low;
}

export function traceLine(series: Series, view: View): TraceLine {
  const points: { x: number; y: number }[] = [];
  const beyond: { from: number; to: number }[] = [];
  const width = (view.to - view.from) / view.columns;
  const { time, value, flags, breakBefore } = series;
  // One sample more on either side, so that the line runs out of the picture instead of ending at its edge.
  const start = Math.max(0, firstFrom(time, series.length, view.from) - 1);
  const end = Math.min(series.length, firstFrom(time, series.length, view.to) + 1);
  let low = Infinity;
  let high = -Infinity;
  let column = NaN;
  let first = -1, least = -1, most = -1, last = -1;
  let segment = 0;
  let brokenColumn = NaN;
  let breaks = 0;

  const flush = (): void => {
    if (first < 0) return;
    let before = -1;
    for (const i of [first, Math.min(least, most), Math.max(least, most), last]) {
      if (i !== before && i > before) {
        points.push({ x: time[i]!, y: value[i]! });
        segment++;
        before = i;
      }
    }
    first = -1;
  };
  const breakLine = (here: number, next: number): void => {
    // Breaks closer than a pixel can't be seen: two are drawn, so that the cost is bounded by the width of the screen.
    if (here !== brokenColumn) [brokenColumn, breaks] = [here, 0];
    if (++breaks > BREAKS_A_COLUMN) return;
    flush();
    const only = points.at(-1);
    if (only === undefined || Number.isNaN(only.y)) return;
    // A sample alone between two gaps would be a line of no length.
    if (segment === 1) points.push({ x: Math.min(only.x + width, next), y: only.y });
    points.push({ x: points.at(-1)!.x, y: NaN });
    segment = 0;
  };

  for (let i = start; i < end; i++) {
    const at = time[i]!;
    const here = Math.floor((at - view.from) / width);
    const isBroken = breakBefore[i] === 1;
    if (isBroken) breakLine(here, at);
    const bits = flags[i]!;
    if ((bits & Flag.overRange) !== 0) {
      breakLine(here, at);
      const open = beyond.at(-1);
      const from = i > 0 && !isBroken ? time[i - 1]! : at;
      if (open !== undefined && from - open.to < width / 2) open.to = at;
      else beyond.push({ from, to: at });
      continue;
    }
    const y = value[i]!;
    if ((bits & Flag.blank) !== 0 || Number.isNaN(y)) {
      breakLine(here, at);
      continue;
    }
    if (here !== column) {
      flush();
      column = here;
    }
    if (first < 0) first = least = most = i;
    else if (y < value[least]!) least = i;
    else if (y > value[most]!) most = i;
    last = i;
    if (at >= view.from && at <= view.to) {
      if (y < low) low = y;
      if (y > high) high = y;
    }
  }
  const tail = points.length;
  flush();
  if (segment === 1 && points.length > tail) points.push({ x: points.at(-1)!.x + width, y: points.at(-1)!.y });
  return { points, beyond, extent: low <= high ? { low, high } : null };
}
