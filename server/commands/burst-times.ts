/** Times of readings that came in bursts, put back on the meter's own interval. */

/** Readings closer than this part of the interval came in one burst. */
const BURST = 0.1;
/** A burst is re-spaced only where that leaves its readings at least this part of the interval apart. */
const LEAST_SPACING = 0.7;

/**
 * Re-spaces bursts in place; each ends where its last reading ends. Other times stay as they are.
 * @param interval  declared, s; null to take it from the times
 * @returns index of the first time that is equal or falling outside a burst, -1 when all is well
 */
export function respaceBursts(time: Float64Array, interval: number | null): number {
  const n = time.length;
  const pace = interval ?? measurePace(time);
  let i = 1;
  while (i < n) {
    if (!isWithinBurst(time, i, pace)) {
      if (!((time[i] as number) > (time[i - 1] as number))) return i;
      i++;
      continue;
    }
    const first = i - 1;
    let last = i;
    while (last + 1 < n && isWithinBurst(time, last + 1, pace)) last++;
    let isRising = true;
    let end = time[first] as number;
    for (let k = first + 1; k <= last; k++) {
      if (!((time[k] as number) > (time[k - 1] as number))) isRising = false;
      end = Math.max(end, time[k] as number);
    }
    const size = last - first + 1;
    const before = first === 0 ? -Infinity : (time[first - 1] as number);
    const spacing = Math.min(pace, (end - before) / size);
    if (spacing >= LEAST_SPACING * pace) {
      for (let k = first; k <= last; k++) time[k] = Math.round((end - (last - k) * spacing) * 1e6) / 1e6;
    } else if (!isRising) {
      let k = first + 1;
      while ((time[k] as number) > (time[k - 1] as number)) k++;
      return k;
    }
    i = last + 1;
  }
  return -1;
}

function isWithinBurst(time: Float64Array, i: number, pace: number): boolean {
  return Math.abs((time[i] as number) - (time[i - 1] as number)) < BURST * pace;
}

/** Median interval; where many readings share a time, the median of burst distance over burst size. NaN for fewer than two readings. */
function measurePace(time: Float64Array): number {
  const n = time.length;
  if (n < 2) return Number.NaN;
  const mean = ((time[n - 1] as number) - (time[0] as number)) / (n - 1);
  const differences = new Float64Array(n - 1);
  let close = 0;
  for (let i = 1; i < n; i++) {
    const d = (time[i] as number) - (time[i - 1] as number);
    differences[i - 1] = d;
    if (Math.abs(d) < BURST * mean) close++;
  }
  if (close <= 0.05 * (n - 1)) return differences.sort()[(n - 1) >> 1] as number;
  const paces: number[] = [];
  let size = 1;
  let previousEnd = Number.NaN;
  for (let i = 1; i <= n; i++) {
    if (i < n && Math.abs((time[i] as number) - (time[i - 1] as number)) < BURST * mean) {
      size++;
      continue;
    }
    const end = time[i - 1] as number;
    if (previousEnd === previousEnd) paces.push((end - previousEnd) / size);
    previousEnd = end;
    size = 1;
  }
  return paces.length === 0 ? Number.NaN : (Float64Array.from(paces).sort()[paces.length >> 1] as number);
}
