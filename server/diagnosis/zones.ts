/**
 * Wiggle takes: which zone of the harness is the source? A posterior over the zones that averages over the reaction lag between
 * hands and key, lets a flex move the neighbouring zones, allows for dropouts that have nothing to do with flexing, and
 * for a source that lies in none of the zones. Derivation: DERIVATIONS.md, "Zones".
 */
import { rateLowerLimit, rateUpperLimit } from './claims.ts';
import { normalQuantile } from './normal.ts';

/** From `at` on the zone `zone` is flexed, as the operator noted it; null: nothing is flexed. */
export interface ZoneChange {
  readonly at: number;
  readonly zone: string | null;
}

export interface WiggleRecord {
  /** All zones, in order along the harness: those next to each other move with each other. */
  readonly zones: readonly string[];
  /** Rising times, s. */
  readonly changes: readonly ZoneChange[];
  /** Start of each merged dropout, s. */
  readonly dropouts: readonly number[];
  /** End of the take so far, s. */
  readonly end: number;
  /** Stretches without data, s. */
  readonly gaps?: readonly { readonly start: number; readonly end: number }[];
}

/** How late the operator notes a change of zone: the hands moved on `mean` +/- `deviation` s before the key. */
export interface ReactionLag {
  readonly mean: number;
  readonly deviation: number;
}

export interface ZoneFinding {
  readonly zone: string;
  /** Time flexed, s. */
  readonly flexedTime: number;
  /** Dropouts while it was flexed, at the mean lag. */
  readonly dropouts: number;
  /** Per flexed second, with limits that hold for all zones together at 95 %; null while not flexed. */
  readonly rate: { readonly estimate: number; readonly low: number; readonly high: number } | null;
  /** Chance that this zone is the source. */
  readonly chance: number;
}

export interface ZoneReport {
  readonly zones: readonly ZoneFinding[];
  /** Chance that the source lies in none of the zones. */
  readonly elsewhere: number;
  /** The zone whose chance is at least 0.95: stop here. Else null. */
  readonly source: string | null;
  /** About how many more dropouts it takes to decide, if the leading zone is the source; 0 when decided, null before the first dropout. */
  readonly dropoutsNeeded: number | null;
  /** The zone to flex next: the least flexed of those that are still in question; null when decided. */
  readonly flexNext: string | null;
}

export const SOURCE_CHANCE = 0.95;
/** Stated reaction lag (common practice, no source). */
export const REACTION_LAG: ReactionLag = { mean: 1, deviation: 0.5 };
/** Chance beforehand that the source lies in none of the zones (common practice, no source). */
const ELSEWHERE_PRIOR = 0.1;
/**
 * How strongly flexing a zone moves the next one, and how frequent dropouts without flexing are, against flexing the source itself: each
 * value alike beforehand, its weight then learned from the same dropouts.
 */
const COUPLINGS = [0, 0.15, 0.3, 0.45, 0.6, 0.75, 0.9];
const BACKGROUNDS = [0.003, 0.01, 0.03, 0.1, 0.3];
const LAG_NODES = [...Array(9).keys()].map((k) => normalQuantile((k + 0.5) / 9));
/** One stroke of the hand, s: dropouts that follow one another within it may have one cause (common practice, no source). */
const STROKE = 0.7;
/** Zones less likely than this are out of question. */
const IN_QUESTION = 0.02;

/**
 * What a wiggle take says about the zones, so far.
 * @throws {RangeError} for a zone that is not among `zones`, for falling times, or a negative lag deviation
 */
export function findSourceZone(record: WiggleRecord, lag: ReactionLag = REACTION_LAG): ZoneReport {
  const stays = layOutStays(record, lag);
  const { zones } = record;
  const flexed = zones.map((_, z) => stays.reduce((sum, stay) => sum + (stay.zone === z ? stay.watched : 0), 0));
  const watched = stays.reduce((sum, stay) => sum + stay.watched, 0);
  const placed = placeDropouts(record.dropouts, stays, lag);
  const counts = zones.map((_, z) => placed.filter((dropout) => dropout.zone === z).length);
  const evidence = onsetsOf(record, stays, flexed, watched);
  const chances = sourceChances(placeDropouts(evidence.onsets, stays, lag), evidence.flexed, evidence.watched);
  const confidence = 1 - 0.025 / zones.length;
  const findings = zones.map((zone, z): ZoneFinding => {
    const time = flexed[z] as number;
    const count = counts[z] as number;
    return {
      zone, flexedTime: time, dropouts: count, chance: chances[z] as number,
      rate: time > 0
        ? { estimate: count / time, low: rateLowerLimit(count, time, 1, confidence), high: rateUpperLimit(count, time, 1, confidence) }
        : null,
    };
  });
  const leader = findings.reduce((best, finding) => (finding.chance > best.chance ? finding : best));
  const isDecided = placed.length > 0 && leader.chance >= SOURCE_CHANCE;
  const open = findings.filter((finding) => finding.chance >= IN_QUESTION);
  const leastFlexed = (open.length > 0 ? open : findings).reduce((least, finding) => (finding.flexedTime < least.flexedTime ? finding : least));
  return {
    zones: findings,
    elsewhere: chances[zones.length] as number,
    source: isDecided ? leader.zone : null,
    dropoutsNeeded: placed.length === 0 ? null : isDecided ? 0 : dropoutsNeeded(chances),
    flexNext: isDecided ? null : leastFlexed.zone,
  };
}

/**
 * Dropouts that follow another within one stroke are no onsets of their own: five from one bend of the wire are no more evidence for the
 * zone than one. As none can begin then, the time after each dropout is no time watched either, so that dropouts without bursts are
 * weighed just as rightly.
 */
function onsetsOf({ dropouts, end }: WiggleRecord, stays: readonly Stay[], flexed: readonly number[], watched: number): { onsets: readonly number[]; flexed: number[]; watched: number } {
  const onsets = dropouts.filter((at, k) => k === 0 || at - (dropouts[k - 1] as number) >= STROKE);
  const left = [...flexed];
  let lost = 0;
  dropouts.forEach((at, k) => {
    const until = Math.min(at + STROKE, dropouts[k + 1] ?? end, end);
    for (const stay of stays) {
      const blind = Math.max(0, Math.min(until, stay.end) - Math.max(at, stay.start));
      lost += blind;
      if (stay.zone >= 0) left[stay.zone] = Math.max(0, (left[stay.zone] as number) - blind);
    }
  });
  return { onsets, flexed: left, watched: Math.max(0, watched - lost) };
}

/** A stretch of flexing one zone (index, -1 for none), with the change that began it dated back by the mean lag. */
interface Stay {
  readonly zone: number;
  readonly start: number;
  readonly end: number;
  /** Length without gaps, s. */
  readonly watched: number;
}

function layOutStays({ zones, changes, end, gaps = [] }: WiggleRecord, lag: ReactionLag): Stay[] {
  if (!(lag.deviation >= 0)) throw new RangeError(`a lag's deviation is 0 s or more, not ${lag.deviation}`);
  return changes.map((change, k) => {
    const zone = change.zone === null ? -1 : zones.indexOf(change.zone);
    if (change.zone !== null && zone < 0) throw new RangeError(`no zone is called ${change.zone}`);
    const next = changes[k + 1];
    if (next !== undefined && next.at < change.at) throw new RangeError(`the change at ${next.at} s comes after one at ${change.at} s`);
    // The first zone of a take is noted before the hands begin: it is not dated back.
    const start = k === 0 ? change.at : Math.max((changes[0] as ZoneChange).at, change.at - lag.mean);
    const stop = next === undefined ? end : Math.max(start, next.at - lag.mean);
    const lost = gaps.reduce((sum, gap) => sum + Math.max(0, Math.min(stop, gap.end) - Math.max(start, gap.start)), 0);
    return { zone, start, end: stop, watched: Math.max(0, stop - start - lost) };
  });
}

/** One dropout: the zone at the mean lag, and, when it lies near a change, the two zones between which the lag decides. */
interface PlacedDropout {
  readonly zone: number;
  readonly change: number | null;
  readonly before: number;
  readonly after: number;
  /** The change happened before the dropout when the lag is this many deviations longer than its mean, or more. */
  readonly deviations: number;
}

function placeDropouts(dropouts: readonly number[], stays: readonly Stay[], lag: ReactionLag): PlacedDropout[] {
  const placed: PlacedDropout[] = [];
  for (const at of dropouts) {
    const index = stays.findLastIndex((stay) => stay.start <= at);
    const stay = stays[index];
    if (stay === undefined) continue; // before the first zone was named
    const next = stays[index + 1];
    const sinceStart = index === 0 ? Infinity : at - stay.start;
    const untilEnd = next === undefined ? Infinity : next.start - at;
    const change = sinceStart <= untilEnd ? index : index + 1;
    const reach = 3.5 * lag.deviation;
    const isNear = lag.deviation > 0 && Math.min(sinceStart, untilEnd) < reach;
    placed.push({
      zone: stay.zone,
      change: isNear ? change : null,
      before: isNear ? (stays[change - 1] as Stay).zone : stay.zone,
      after: isNear ? (stays[change] as Stay).zone : stay.zone,
      deviations: isNear ? ((stays[change] as Stay).start - at) / lag.deviation : 0,
    });
  }
  return placed;
}

/** Chance of each zone, and last of none of them. */
function sourceChances(placed: readonly PlacedDropout[], flexed: readonly number[], watched: number): number[] {
  const n = placed.length;
  const zoneCount = flexed.length;
  const priors = [...flexed.map(() => (1 - ELSEWHERE_PRIOR) / zoneCount), ELSEWHERE_PRIOR];
  if (n === 0 || watched === 0) return priors;
  const lone = placed.filter((dropout) => dropout.change === null);
  const byChange = new Map<number, PlacedDropout[]>();
  for (const dropout of placed) {
    if (dropout.change !== null) byChange.set(dropout.change, [...(byChange.get(dropout.change) ?? []), dropout]);
  }
  const groups = [...byChange.values()];

  // Rates relative to flexing the source; its own rate, with a prior 1 / rate, integrates out as 1 / exposure^n.
  const logs: number[] = [];
  for (let source = 0; source < zoneCount; source++) {
    const alternatives: number[] = [];
    for (const coupling of COUPLINGS) {
      const next = ((flexed[source - 1] ?? 0) + (flexed[source + 1] ?? 0)) * coupling;
      for (const background of BACKGROUNDS) {
        const rates = flexed.map((_, z) => (z === source ? 1 : Math.abs(z - source) === 1 ? coupling : 0) + background);
        const rateOf = (zone: number): number => rates[zone] ?? background;
        const exposure = (flexed[source] as number) + next + background * watched;
        let log = -n * Math.log(exposure);
        for (const dropout of lone) log += Math.log(rateOf(dropout.zone));
        for (const group of groups) log += Math.log(averageOverLag(group, rateOf));
        alternatives.push(log);
      }
    }
    logs.push(logMean(alternatives));
  }
  logs.push(-n * Math.log(watched));
  const top = Math.max(...logs);
  const weights = logs.map((log, k) => (priors[k] as number) * Math.exp(log - top));
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  return weights.map((weight) => weight / total);
}

/** The dropouts near one change share its lag. */
function averageOverLag(group: readonly PlacedDropout[], rateOf: (zone: number) => number): number {
  let sum = 0;
  for (const node of LAG_NODES) {
    let product = 1;
    // A lag longer than the mean puts the change further back.
    for (const dropout of group) product *= rateOf(node >= dropout.deviations ? dropout.after : dropout.before);
    sum += product;
  }
  return sum / LAG_NODES.length;
}

function logMean(logs: readonly number[]): number {
  const top = Math.max(...logs);
  return top + Math.log(logs.reduce((sum, log) => sum + Math.exp(log - top), 0) / logs.length);
}

/**
 * Dropouts until the leader is sure, when all zones are flexed alike from now on: the odds that are missing over what one dropout
 * adds on average, were the leader the source and the neighbours strongly coupled. (With middling coupling it promises too much:
 * the leader is not always the source, and coupling and background have to be learned from the same dropouts.)
 */
function dropoutsNeeded(chances: readonly number[]): number {
  const zoneCount = chances.length - 1;
  const leader = chances.indexOf(Math.max(...chances.slice(0, zoneCount)));
  const coupling = 0.4;
  const background = 0.15;
  const shares = (source: number): number[] => {
    const rates = Array.from({ length: zoneCount }, (_, z) =>
      (source === zoneCount ? 1 : z === source ? 1 : Math.abs(z - source) === 1 ? coupling : 0) + background);
    const sum = rates.reduce((a, b) => a + b, 0);
    return rates.map((rate) => rate / sum);
  };
  const own = shares(leader);
  const wanted = Math.log(SOURCE_CHANCE / (1 - SOURCE_CHANCE));
  // The rival that will be shaken off last decides.
  let most = 1;
  chances.forEach((chance, rival) => {
    if (rival === leader || chance === 0) return;
    const other = shares(rival);
    const gain = own.reduce((sum, share, z) => sum + share * Math.log(share / (other[z] as number)), 0);
    const missing = wanted - Math.log((chances[leader] as number) / chance);
    most = Math.max(most, Math.ceil(missing / gain));
  });
  return most;
}
