/** Readings in a row that have something in common, as their extremes and their mean. */
export interface Run { readonly first: number; last: number; n: number; sum: number; low: number; high: number; peak: number }

/** @param run  to be continued; null begins one @param time  s @param value  SI @param size  how far it is from the level, SI */
export function extend(run: Run | null, time: number, value: number, size: number): Run {
  if (run === null) return { first: time, last: time, n: 1, sum: value, low: value, high: value, peak: size };
  run.last = time;
  run.n++;
  run.sum += value;
  run.low = Math.min(run.low, value);
  run.high = Math.max(run.high, value);
  run.peak = Math.max(run.peak, size);
  return run;
}
