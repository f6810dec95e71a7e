/**
 * A judgement as one JSON object. The fields of the contract judge/1 come first and in its order, further ones after them. Unknown is null,
 * never 0. Times in s on the clock of the file, values in SI.
 */
import { sayMarkAssociation, sayTime } from '../diagnosis/index.ts';
import type { Association, Judgement } from '../diagnosis/index.ts';
import type { BreakFinding } from '../diagnosis/judgement.ts';
import type { ZoneReport } from '../diagnosis/zones.ts';
import type { RoadReport } from '../session/road-report.ts';

/** What marks add to a judgement; all null when none were given. */
export interface MarksSaid {
  readonly zones: ZoneReport | null;
  readonly road: RoadReport | null;
}

export function judgementAsJson(j: Judgement, said: MarksSaid = { zones: null, road: null }): object {
  return {
    schema: 'judge/1', algorithm: j.algorithm, quantity: j.quantity, unit: j.unit, samples: j.samples, elapsed_s: round(j.elapsed),
    interval_s: j.interval, aperture_s: j.aperture, noise: j.noise, resolution: j.resolution, level: j.level,
    steady: j.steady.map((s) => ({ start_s: round(s.start), end_s: round(s.end), value: s.value, spread: s.spread })),
    dropouts: j.dropouts.map((d) => ({
      start_s: round(d.start), end_s: round(d.end), count: d.count, depth: d.depth, ...(d.overRange ? { over_range: true } : {}),
      duration_s: { estimate: d.duration.estimate, low: d.duration.low, high: d.duration.high },
    })),
    sags: j.sags.map((s) => ({ start_s: round(s.start), end_s: round(s.end), depth: s.depth })),
    shifts: j.shifts.map((s) => ({ at_s: round(s.at), from: s.from, to: s.to })),
    gaps: j.gaps.map((g) => ({ start_s: round(g.start), end_s: round(g.end) })),
    verdict: j.verdict, level_verdict: j.levelVerdict, reasons: j.reasons,
    shortest_visible_dropout_s: j.shortestVisibleDropout, sure_dropout_s: j.sureDropout,
    rate_limit_per_hour: j.rateLimitPerHour === null ? null : { length_s: j.rateLimitPerHour.length, limit: j.rateLimitPerHour.limit },
    // Beyond the contract.
    ...(j.levelOverRange ? { level_over_range: true } : {}),
    ...(j.leadOhms === undefined ? {} : { lead_ohms: j.leadOhms }),
    ...(j.dropoutCount === undefined ? {} : { dropout_count: j.dropoutCount }),
    threshold: j.threshold,
    uncertainty: j.doubt?.uncertainty ?? null,
    inside_chance: j.doubt?.insideChance ?? null,
    wrong_verdict_chance: j.doubt?.wrongChance ?? null,
    would_decide: wouldDecide(j),
    claims: (j.claims ?? []).map(({ per, rate, length, catchChance, catchChanceAtMost, exposure, limit, needed, isMet }) => ({
      per, rate, length_s: length, catch_chance: catchChance ?? null, ...(catchChanceAtMost === undefined ? {} : { catch_chance_at_most: catchChanceAtMost }), exposure, limit, needed, met: isMet,
    })),
    catching: j.sight?.catching.map(({ length, chance, atMost }) => ({ length_s: length, chance, ...(atMost === undefined ? {} : { chance_at_most: atMost }) })) ?? null,
    caught_length_s: j.sight?.caughtLength ?? null,
    smallest_visible_series_ohm: j.sight?.visibleSeries ? { with_load: j.sight.visibleSeries.withLoad, meter_alone: j.sight.visibleSeries.meterAlone } : null,
    zones: said.zones === null ? null : zonesAsJson(said.zones),
    road: said.road === null ? null : roadAsJson(said.road),
    several: j.several ? severalAsJson(j.several) : null,
  };
}

/** What would turn an undecided verdict into a decided one: for the level, then for the claim. */
function wouldDecide({ verdict, doubt, claims = [] }: Judgement): string[] {
  if (verdict !== 'undecided') return [];
  const [claim] = claims;
  const more = claim === undefined || claim.isMet || claim.needed === null ? []
    : [claim.per === 'hour' ? `${sayTime(claim.needed * 3600)} more without a dropout` : `${Math.ceil(claim.needed)} more ${claim.per === 'flex' ? 'flexes' : 'flexed seconds'} without a dropout`];
  return [...(doubt?.remedies ?? []), ...more];
}

/** Whole microseconds: no clock here is finer. */
function round(time: number): number { return Math.round(time * 1e6) / 1e6; }

function zonesAsJson({ zones, elsewhere, source, dropoutsNeeded, flexNext }: ZoneReport): object {
  return {
    zones: zones.map(({ zone, flexedTime, dropouts, rate, chance }) => ({ zone, flexed_s: flexedTime, dropouts, rate_per_flexed_second: rate, chance })),
    elsewhere, source, dropouts_needed: dropoutsNeeded, flex_next: flexNext,
  };
}

function associationAsJson({ near, nearTime, away, awayTime, rateRatio, effectiveClusters, p }: Association): object {
  return { near, near_s: nearTime, away, away_s: awayTime, rate_ratio: rateRatio, effective_clusters: effectiveClusters, p };
}

function roadAsJson({ dropouts, watched, byMark, byMotion, sinceStart: { stretches, p, middle }, words }: RoadReport): object {
  return {
    dropouts, watched_s: watched,
    by_mark: byMark.map((one) => ({ text: one.text, marks: one.marks, ...associationAsJson(one), corrected_p: one.correctedP })),
    by_motion: byMotion === null ? null : associationAsJson(byMotion),
    since_start: { stretches: stretches.map(({ start, end, watched, dropouts, rate }) => ({ start_s: start, end_s: end, watched_s: watched, dropouts, rate_per_hour: rate })), p, middle },
    words: [...words, ...byMark.map(sayMarkAssociation)],
  };
}

function severalAsJson({ meters, message, places, coincidences }: BreakFinding): object {
  return {
    meters, message,
    places: places.map(({ place, chance }) => ({ ...place, chance })),
    coincidences: coincidences.map(({ start, end, seenBy, missedBy, blind }) => ({ start_s: round(start), end_s: round(end), seen_by: seenBy, missed_by: missedBy, blind })),
  };
}
