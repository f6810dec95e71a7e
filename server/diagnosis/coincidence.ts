/**
 * Several meters on one circuit: a dropout that one sees and another doesn't says between which points the break lies.
 *
 *   supply o---o---o--[load]--o---o return        points of the chain, in order from supply to return
 *                x                                 a break here: the points from it to the load lose the supply,
 *                                                  those before keep it; past the load, the points up to the break gain it
 *
 * A meter reads the voltage between the points of its two leads, so each place of a break lets some meters fall, some rise
 * and leaves others alone. Derivation: DERIVATIONS.md, "Several meters".
 */
import type { Stretch } from './road.ts';

/** A plain series circuit. */
export interface Chain {
  /** Points from supply to return. */
  readonly points: readonly string[];
  /** The load lies after this point. */
  readonly loadAfter: string;
}

export interface WatchingMeter {
  readonly name: string;
  readonly red: string;
  readonly black: string;
  /** Merged dropouts; `change` the sign of the reading's change, 0 when not known. */
  readonly dropouts: readonly (Stretch & { readonly change: -1 | 0 | 1 })[];
  /** Stretches without data. */
  readonly gaps: readonly Stretch[];
  /** Quiet reading, V; null or missing when not known. A lead that slips off reads about nothing, so that it moves the reading towards 0. */
  readonly level?: number | null;
  /** The leads were tugged with the harness still, and held. */
  readonly rigIsProved: boolean;
  /** Chance that this meter shows a dropout that another one has shown (visibility.ts). */
  readonly catchChance: number;
}

/** Where a dropout came from. */
export type BreakPlace =
  /** Between these two points; the meters can't tell the spans between them apart. */
  | { readonly kind: 'between'; readonly from: string; readonly to: string }
  /** Before the first point: the supply itself fell. */
  | { readonly kind: 'source' }
  /** The leads of this meter slipped. */
  | { readonly kind: 'leads'; readonly meter: string };

export interface Coincidence extends Stretch {
  readonly seenBy: readonly string[];
  /** Watching, and didn't see it. */
  readonly missedBy: readonly string[];
  /** In a gap then: says nothing. */
  readonly blind: readonly string[];
}

export interface CoincidenceReport {
  readonly coincidences: readonly Coincidence[];
  /** Chances of all places, most likely first. */
  readonly places: readonly { readonly place: BreakPlace; readonly chance: number }[];
}

/** Chance that a meter shows a dropout of its own just then, or that the sign of a short one is misread (common practice, no source). */
const STRAY = 0.02;
/** Share of coincidences that have another cause than the one sought. */
const OTHER_CAUSE = 0.05;
/** Weights beforehand (common practice, no source): the spans together, the source, and the leads of each meter. */
const SPANS_WEIGHT = 0.7;
const SOURCE_WEIGHT = 0.1;
const LEADS_WEIGHT = 0.07;
const PROVED_LEADS_WEIGHT = 0.005;

/**
 * Between which points the break lies.
 * @param tolerance  how far apart the same dropout may begin on two meters, s: the longest interval plus the clocks' uncertainty
 * @throws {RangeError} for a lead or a load at a point that the chain doesn't have, a chance outside 0..1, or a negative tolerance
 */
export function findBreak(chain: Chain, meters: readonly WatchingMeter[], tolerance: number): CoincidenceReport {
  checkInputs(chain, meters, tolerance);
  const coincidences = gather(meters, tolerance);
  const hypotheses = layOutHypotheses(chain, meters);
  const logs = hypotheses.map(({ prior }) => Math.log(prior));
  for (const { observations } of coincidences) {
    const chances = hypotheses.map(({ changes }) => chanceOf(observations, changes, meters));
    const mean = chances.reduce((sum, chance, k) => sum + chance * (hypotheses[k] as Hypothesis).prior, 0);
    chances.forEach((chance, k) => { logs[k] = (logs[k] as number) + Math.log((1 - OTHER_CAUSE) * chance + OTHER_CAUSE * mean); });
  }
  const top = Math.max(...logs);
  const weights = logs.map((log) => Math.exp(log - top));
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  return {
    coincidences: coincidences.map(({ observations: _, ...coincidence }) => coincidence),
    places: hypotheses
      .map(({ place }, k) => ({ place, chance: (weights[k] as number) / total }))
      .sort((a, b) => b.chance - a.chance),
  };
}

function checkInputs({ points, loadAfter }: Chain, meters: readonly WatchingMeter[], tolerance: number): void {
  if (!(tolerance >= 0)) throw new RangeError(`a tolerance is 0 s or more, not ${tolerance}`);
  const load = points.indexOf(loadAfter);
  if (load < 0 || load === points.length - 1) throw new RangeError(`the load lies between two points of the chain, not after ${loadAfter}`);
  for (const { red, black, catchChance } of meters) {
    for (const point of [red, black]) if (!points.includes(point)) throw new RangeError(`the chain has no point ${point}`);
    if (!(catchChance >= 0 && catchChance <= 1)) throw new RangeError(`a catch chance lies within 0..1, not ${catchChance}`);
  }
}

/** Dropouts of different meters that belong together, in order, where nothing is known of the circuit. Parameters as `findBreak`. */
export function coincidencesOf(meters: readonly WatchingMeter[], tolerance: number): Coincidence[] {
  return gather(meters, tolerance).map(({ observations: _, ...coincidence }) => coincidence);
}

/** Sign of the change that each meter saw, 'missed', or 'blind'. */
type Observation = -1 | 0 | 1 | 'missed' | 'blind';

/** Dropouts of different meters that overlap, or nearly so, are one. */
function gather(meters: readonly WatchingMeter[], tolerance: number): (Coincidence & { observations: Observation[] })[] {
  const all = meters
    .flatMap((meter, m) => meter.dropouts.map((dropout) => ({ ...dropout, m })))
    .sort((a, b) => a.start - b.start);
  const groups: { start: number; end: number; seen: Map<number, -1 | 0 | 1> }[] = [];
  for (const { start, end, change, m } of all) {
    const last = groups.at(-1);
    if (last !== undefined && start <= last.end + tolerance) {
      last.end = Math.max(last.end, end);
      if (!last.seen.has(m)) last.seen.set(m, change);
    } else groups.push({ start, end, seen: new Map([[m, change]]) });
  }
  return groups.map(({ start, end, seen }) => {
    const observations = meters.map((meter, m): Observation =>
      seen.get(m) ?? (meter.gaps.some((gap) => gap.start < end && gap.end > start) ? 'blind' : 'missed'));
    const names = (wanted: (observation: Observation) => boolean): string[] =>
      meters.filter((_, m) => wanted(observations[m] as Observation)).map((meter) => meter.name);
    return {
      start, end, observations,
      seenBy: names((o) => typeof o === 'number'), missedBy: names((o) => o === 'missed'), blind: names((o) => o === 'blind'),
    };
  });
}

interface Hypothesis {
  readonly place: BreakPlace;
  readonly prior: number;
  /** Sign of the change that each meter would show; 'any' for slipped leads where the level is not known. */
  readonly changes: readonly (-1 | 0 | 1 | 'any')[];
}

/** Spans that all meters answer alike are one hypothesis. */
function layOutHypotheses({ points, loadAfter }: Chain, meters: readonly WatchingMeter[]): Hypothesis[] {
  const load = points.indexOf(loadAfter);
  /** Change of point p when the span after point k breaks; k = -1: the supply falls. */
  const changeAt = (p: number, k: number): -1 | 0 | 1 => {
    if (k < load) return p > k && p <= load ? -1 : 0;
    return p > load && p <= k && k > load ? 1 : 0;
  };
  const answers = (k: number): (-1 | 0 | 1)[] => meters.map(({ red, black }) =>
    Math.sign(changeAt(points.indexOf(red), k) - changeAt(points.indexOf(black), k)) as -1 | 0 | 1);
  const same = (a: readonly unknown[], b: readonly unknown[]): boolean => a.every((value, m) => value === b[m]);

  const spans: { from: number; to: number; changes: (-1 | 0 | 1)[] }[] = [];
  for (let k = 0; k < points.length - 1; k++) {
    const changes = answers(k);
    const last = spans.at(-1);
    if (last !== undefined && same(last.changes, changes)) last.to = k + 1;
    else spans.push({ from: k, to: k + 1, changes });
  }
  const weighted = [
    ...spans.map(({ from, to, changes }): Hypothesis => ({
      place: { kind: 'between', from: points[from] as string, to: points[to] as string }, prior: (SPANS_WEIGHT * (to - from)) / (points.length - 1), changes,
    })),
    { place: { kind: 'source' } as const, prior: SOURCE_WEIGHT, changes: answers(-1) },
    ...meters.map(({ name, rigIsProved }, m): Hypothesis => ({
      place: { kind: 'leads', meter: name }, prior: rigIsProved ? PROVED_LEADS_WEIGHT : LEADS_WEIGHT,
      changes: meters.map(({ level }, other) => (other !== m ? 0 : level ? (-Math.sign(level) as -1 | 1) : 'any')),
    })),
  ];
  const total = weighted.reduce((sum, { prior }) => sum + prior, 0);
  return weighted.map((hypothesis) => ({ ...hypothesis, prior: hypothesis.prior / total }));
}

function chanceOf(observations: readonly Observation[], changes: Hypothesis['changes'], meters: readonly WatchingMeter[]): number {
  let chance = 1;
  observations.forEach((observation, m) => {
    const expected = changes[m] as -1 | 0 | 1 | 'any';
    const caught = (meters[m] as WatchingMeter).catchChance;
    if (observation === 'blind') return;
    if (observation === 'missed') chance *= expected === 0 ? 1 - STRAY : Math.max(STRAY, 1 - caught);
    else if (expected === 0) chance *= STRAY;
    else chance *= expected === 'any' || observation === 0 || observation === expected ? Math.max(STRAY, caught) : STRAY;
  });
  return chance;
}
