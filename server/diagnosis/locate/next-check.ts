/** From the chances so far to the check that leads to the fault in the fewest minutes. */
import type { Plan, PlanProblem, PlanTest } from '../planner/index.ts';
import { MOST_GROUPS, MOST_PANELS, planNext } from '../planner/index.ts';
import type { Expected, Locator } from './locator.ts';
import type { Flexing, Probe } from './probe.ts';
import { isSamePlace } from './probe.ts';
import type { Suspect } from './suspects.ts';
import { placeOf } from './suspects.ts';

/** A check that could be made next. */
export interface Candidate {
  readonly probe: Probe;
  /** A wiggle take instead of a spot reading. */
  readonly flexing?: Flexing;
  /** Minutes to put the leads there and read, panels off and state reached. */
  readonly minutes: number;
  /** Panels that must be off, by id. */
  readonly panels: readonly string[];
  /** State that the circuit must be in, by name. */
  readonly state: string;
}

export interface Bench {
  readonly candidates: readonly Candidate[];
  readonly panelMinutes: Readonly<Record<string, number>>;
  /** Minutes from one state to another. */
  stateMinutes(from: string, to: string): number;
  /** Standard uncertainty of the meter, SI. */
  uncertainty(quantity: Probe['quantity'], value: number): number;
}

export interface Standing {
  readonly openPanels: readonly string[];
  readonly state: string;
}

export interface NextChecks {
  /** Found, or no check tells more: then `next` is empty. */
  readonly isFound: boolean;
  readonly next: readonly { readonly candidate: Candidate; readonly minutes: number }[];
  /** Expected minutes to the end. */
  readonly expectedMinutes: number;
  readonly isOptimal: boolean;
}

/** Chance of one place at which the search ends. */
export const SURE = 0.985;
/** Two hypotheses are told apart by readings so many standard deviations from each other, each side. */
const APART = 2;
/** Hypotheses that take part in planning; the rest have next to no chance. */
export const MOST_HYPOTHESES = 70;
const STATES = 16;
/** One stretch is flexed so many times at most. */
const MOST_FLEXINGS = 3;

/** @param effort  situations to search through at most; see `planNext` */
export function nextChecks(locator: Locator, bench: Bench, standing: Standing, effort = 4000): NextChecks {
  const [first] = locator.places();
  if (first !== undefined && first.chance >= SURE) return { isFound: true, next: [], expectedMinutes: 0, isOptimal: true };
  // A spot reading is not offered again (contradictory ones are named elsewhere); flexing is, since a silent take may have been luck.
  const done = locator.observations;
  const candidates = bench.candidates.filter(({ probe, flexing }) => {
    const times = done.filter((own) => own.probe.id === probe.id && own.flexing?.parts?.join() === flexing?.parts?.join()).length;
    return times < (flexing === undefined ? 1 : MOST_FLEXINGS);
  });
  const isRead = candidates.map(({ probe }) => done.some((own) => isSamePlace(own.probe, probe)));
  const probes = candidates.map(({ probe, flexing }) => (flexing === undefined ? probe : { ...probe, flexing }));
  const expected = locator.expectations(probes, MOST_HYPOTHESES);
  const outcomes = candidates.map((candidate, order) => outcomesOf(expected.map((own) => own.at[order] as Expected['at'][number]), candidate, bench, isRead[order] as boolean));
  const { groups, weights, places } = group(expected, locator.suspects, outcomes);
  const panels = [...new Set(candidates.flatMap((candidate) => candidate.panels))].slice(0, MOST_PANELS);
  const states = [...new Set([standing.state, ...candidates.map((candidate) => candidate.state)])].slice(0, STATES);
  const tests = candidates.map((candidate, order): PlanTest => ({
    outcomes: groups.map((hypothesis) => (outcomes[order] as number[])[hypothesis] as number), minutes: candidate.minutes,
    panels: candidate.panels.map((panel) => panels.indexOf(panel)).filter((panel) => panel >= 0), state: states.indexOf(candidate.state),
  }));
  // Of two tests that part the groups alike in the same state, only the cheaper matters.
  const useful = cheapest(tests, panels.map((panel) => (standing.openPanels.includes(panel) ? 0 : bench.panelMinutes[panel] ?? 0)));
  const problem: PlanProblem = {
    weights, places, tests: useful.map((order) => tests[order] as PlanTest), panelMinutes: panels.map((panel) => bench.panelMinutes[panel] ?? 0),
    stateMinutes: states.map((from) => states.map((to) => bench.stateMinutes(from, to))),
    openPanels: standing.openPanels.map((panel) => panels.indexOf(panel)).filter((panel) => panel >= 0), state: states.indexOf(standing.state), sure: SURE,
  };
  const plan: Plan = useful.length === 0 ? { test: null, minutes: 0, isOptimal: true } : planNext(problem, effort);
  if (plan.test === null) return { isFound: false, next: [], expectedMinutes: 0, isOptimal: plan.isOptimal };
  const candidate = candidates[useful[plan.test] as number] as Candidate;
  return { isFound: false, next: [{ candidate, minutes: costOf(candidate, bench, standing) }], expectedMinutes: plan.minutes, isOptimal: plan.isOptimal };
}

/** Minutes for a check as things stand. */
export function costOf(candidate: Candidate, bench: Bench, standing: Standing): number {
  return candidate.minutes + bench.stateMinutes(standing.state, candidate.state)
    + candidate.panels.reduce((sum, panel) => sum + (standing.openPanels.includes(panel) ? 0 : bench.panelMinutes[panel] ?? 0), 0);
}

/** Numbers the outcomes of a check: hypotheses whose readings can't be told apart share one. */
export function outcomesOf(expected: readonly Expected['at'][number][], candidate: Candidate, bench: Bench, isRead: boolean): number[] {
  const outcomes = new Array<number>(expected.length).fill(0);
  const figures = (isRead ? [] : expected)
    .map(({ value, deviation }, order) => {
      const spread = APART * Math.hypot(deviation, bench.uncertainty(candidate.probe.quantity, value));
      return { order, low: value - spread, high: value + spread, value };
    })
    .filter(({ value }) => Number.isFinite(value))
    .sort((left, right) => left.low - right.low);
  let outcome = 1;
  let reach = -Infinity;
  for (const { order, low, high } of figures) {
    if (low > reach && reach > -Infinity) outcome++;
    reach = Math.max(reach, high);
    outcomes[order] = outcome;
  }
  // With dropouts or without is another outcome of the same reading.
  return outcomes.map((own, order) => own * 2 + ((expected[order]?.dropouts ?? 0) >= 0.6 ? 1 : 0));
}

/** Hypotheses of one place that no check tells apart become one group; the lightest are left out when there are too many. */
function group(expected: readonly Expected[], suspects: readonly Suspect[], outcomes: readonly (readonly number[])[]): { groups: number[]; weights: number[]; places: number[] } {
  const places = new Map<string, number>();
  const groups = new Map<string, { hypothesis: number; weight: number; place: number }>();
  expected.forEach(({ suspect, chance }, hypothesis) => {
    const at = placeOf(suspects[suspect] as Suspect);
    if (!places.has(at)) places.set(at, places.size);
    const place = places.get(at) as number;
    const key = `${place} ${outcomes.map((own) => own[hypothesis]).join()}`;
    const own = groups.get(key);
    if (own === undefined) groups.set(key, { hypothesis, weight: chance, place });
    else own.weight += chance;
  });
  const kept = [...groups.values()].sort((left, right) => right.weight - left.weight).slice(0, MOST_GROUPS);
  return { groups: kept.map((own) => own.hypothesis), weights: kept.map((own) => own.weight), places: kept.map((own) => own.place) };
}

function cheapest(tests: readonly PlanTest[], panelMinutes: readonly number[]): number[] {
  const best = new Map<string, { order: number; cost: number }>();
  tests.forEach((test, order) => {
    if (new Set(test.outcomes).size < 2) return;
    const cost = test.minutes + test.panels.reduce((sum, panel) => sum + (panelMinutes[panel] ?? 0), 0);
    // Outcomes numbered in order of appearance, so that equal partings look equal.
    const names = new Map<number, number>();
    const parting = test.outcomes.map((outcome) => names.get(outcome) ?? (names.set(outcome, names.size), names.size - 1)).join();
    const key = `${test.state} ${test.panels.join('+')} ${parting}`;
    const known = best.get(key);
    if (known === undefined || cost < known.cost) best.set(key, { order, cost });
  });
  return [...best.values()].map(({ order }) => order);
}
