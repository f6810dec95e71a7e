/** A judgement as one JSON object (schema judge/1) and as a summary to read. */
import type { Quantity } from '../../drivers/reading.ts';
import { sayTime, sayTimes, sayValue } from '../diagnosis/index.ts';
import type { Judgement } from '../diagnosis/index.ts';

/** Unknown is null, never 0. Times in s on the clock of the file, values in SI. */
export function judgementAsJson(j: Judgement): object {
  return {
    schema: 'judge/1', algorithm: j.algorithm, quantity: j.quantity, unit: j.unit, samples: j.samples, elapsed_s: round(j.elapsed),
    interval_s: j.interval, aperture_s: j.aperture, noise: j.noise, resolution: j.resolution, level: j.level,
    ...(j.levelOverRange ? { level_over_range: true } : {}),
    steady: j.steady.map((s) => ({ start_s: round(s.start), end_s: round(s.end), value: s.value, spread: s.spread })),
    dropouts: j.dropouts.map((d) => ({
      start_s: round(d.start), end_s: round(d.end), count: d.count, depth: d.depth, ...(d.overRange ? { over_range: true } : {}),
      duration_s: { estimate: d.duration.estimate, low: d.duration.low, high: d.duration.high },
    })),
    ...(j.dropoutCount === undefined ? {} : { dropout_count: j.dropoutCount }),
    sags: j.sags.map((s) => ({ start_s: round(s.start), end_s: round(s.end), depth: s.depth })),
    shifts: j.shifts.map((s) => ({ at_s: round(s.at), from: s.from, to: s.to })),
    gaps: j.gaps.map((g) => ({ start_s: round(g.start), end_s: round(g.end) })),
    verdict: j.verdict, level_verdict: j.levelVerdict, reasons: j.reasons,
    shortest_visible_dropout_s: j.shortestVisibleDropout, sure_dropout_s: j.sureDropout,
    rate_limit_per_hour: j.rateLimitPerHour === null ? null : { length_s: j.rateLimitPerHour.length, limit: j.rateLimitPerHour.limit },
  };
}

/** Whole microseconds: no clock here is finer. */
function round(time: number): number { return Math.round(time * 1e6) / 1e6; }

const LISTED = 20;

export function judgementAsText(j: Judgement): string {
  const quantity = j.quantity as Quantity;
  const value = (v: number | null): string => (v === null ? 'over-range' : sayValue(v, quantity, j.resolution));
  const lines = [j.verdict.toUpperCase(), ...j.reasons.map((reason) => `  ${reason}`), ''];
  lines.push(`${j.samples} readings in ${sayTime(j.elapsed)}${j.interval === null ? '' : `, one every ${sayTime(j.interval)}`}.`);
  if (j.level !== null) lines.push(`Level ${value(j.level)}${j.noise === null ? '' : `, noise ${sayValue(j.noise, quantity, null)}`}${j.threshold === null ? '' : `, departures noticed from ${sayValue(j.threshold, quantity, null)}`}.`);
  if (j.dropouts.length > 0) lines.push('', 'Dropouts:');
  for (const d of j.dropouts.slice(0, LISTED)) {
    const { estimate, low, high } = d.duration;
    const length = estimate !== null && low !== null && high !== null ? `about ${sayTime(estimate)} (${sayTime(low)} to ${sayTime(high)})`
      : low !== null && high !== null ? `${sayTime(low)} to ${sayTime(high)} long` : high !== null ? `at most ${sayTime(high)} long` : '';
    lines.push(`  at ${d.start.toFixed(3)} s  ${d.overRange ? 'over-range' : `by ${value(Math.abs(d.depth ?? 0))}`}${d.count > 1 ? `, ${sayTimes(d.count)}` : ''}${length === '' ? '' : `, ${length}`}`);
  }
  if (j.dropouts.length > LISTED) lines.push(`  and ${j.dropouts.length - LISTED} more`);
  for (const s of j.shifts) lines.push(`Level change at ${s.at.toFixed(3)} s: ${value(s.from)} to ${value(s.to)}.`);
  if (j.rateLimitPerHour?.limit !== null && j.rateLimitPerHour !== null) {
    lines.push(`At 95 %: fewer than ${j.rateLimitPerHour.limit.toPrecision(3)} an hour of ${sayTime(j.rateLimitPerHour.length)} or longer.`);
  }
  return `${lines.join('\n')}\n`;
}
