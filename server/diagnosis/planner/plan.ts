/**
 * Which check to make next, so that the fault is found at the least expected cost in minutes. The
 * planning knows nothing of circuits: groups of hypotheses that behave alike, and tests whose outcome
 * each group fixes. A panel that is off stays off; a change of the circuit's state costs what it costs.
 */

/** Groups of hypotheses at most: they are kept as bits of one number. */
export const MOST_GROUPS = 30;
/** Panels at most, for the same reason. */
export const MOST_PANELS = 12;

export interface PlanTest {
  /** Outcome by group: equal numbers can't be told apart by this test. */
  readonly outcomes: readonly number[];
  /** To put the leads there and read, panels off and state reached. */
  readonly minutes: number;
  /** Numbers of the panels that must be off. */
  readonly panels: readonly number[];
  /** Number of the state that the circuit must be in. */
  readonly state: number;
}

export interface PlanProblem {
  /** Chance of each group; need not add up to 1. */
  readonly weights: readonly number[];
  /** What is to be found, by group: groups of one place need not be told apart. */
  readonly places: readonly number[];
  readonly tests: readonly PlanTest[];
  /** Minutes to take each panel off. */
  readonly panelMinutes: readonly number[];
  /** Minutes from one state to another, by number. */
  readonly stateMinutes: readonly (readonly number[])[];
  /** Panels that are off now, and the state now. */
  readonly openPanels: readonly number[];
  readonly state: number;
  /** Chance of one place at which the search ends, e.g. 0.98; 1 for until nothing else is left. */
  readonly sure: number;
}

export interface Plan {
  /** Number of the test; null when the place is found or no test helps. */
  readonly test: number | null;
  /** Expected minutes to the end, following the plan. */
  readonly minutes: number;
  /** Proved to be the least, not only good. */
  readonly isOptimal: boolean;
}

/**
 * Searches all plans while that takes at most `effort` distinct situations; beyond, follows each
 * first test by the test of most information a minute, and takes the best (a rollout).
 * @throws {RangeError} for more groups or panels than fit
 */
export function planNext(problem: PlanProblem, effort = 20_000): Plan {
  const planner = new Planner(problem, effort);
  return planner.exact() ?? planner.rollout();
}

/** Expected minutes when each test is the one of most information a minute: what a plan must at least match. */
export function greedyMinutes(problem: PlanProblem): number {
  return new Planner(problem, 0).greedyFromStart();
}

interface Situation { readonly groups: number; readonly panels: number; readonly state: number }
interface Split { readonly groups: number; readonly weight: number }

class OutOfEffort extends Error {}

class Planner {
  readonly #problem: PlanProblem;
  readonly #effort: number;
  readonly #all: Situation;
  readonly #testPanels: readonly number[];
  readonly #best = new Map<number, number>();
  readonly #greedy = new Map<number, number>();
  readonly #splits = new Map<number, readonly (readonly Split[] | null)[]>();

  constructor(problem: PlanProblem, effort: number) {
    const groups = problem.weights.length;
    if (groups === 0 || groups > MOST_GROUPS) throw new RangeError(`a plan takes 1 to ${MOST_GROUPS} groups, got ${groups}`);
    if (problem.panelMinutes.length > MOST_PANELS) throw new RangeError(`a plan takes at most ${MOST_PANELS} panels, got ${problem.panelMinutes.length}`);
    this.#problem = problem;
    this.#effort = effort;
    const bits = (numbers: readonly number[]): number => numbers.reduce((sum, number) => sum | (1 << number), 0);
    this.#testPanels = problem.tests.map((test) => bits(test.panels));
    this.#all = { groups: 2 ** groups - 1, panels: bits(problem.openPanels), state: problem.state };
  }

  /** The optimum, or null when it takes too much effort. */
  exact(): Plan | null {
    if (this.#effort <= 0 || 2 * this.#problem.weights.length > this.#effort) return null;
    try {
      const best = this.#bestFrom(this.#all);
      return { ...best, isOptimal: true };
    } catch (error) {
      if (error instanceof OutOfEffort) return null;
      throw error;
    }
  }

  rollout(): Plan {
    let best: Plan = { test: null, minutes: Infinity, isOptimal: false };
    for (const { test, cost, splits, weight } of this.#options(this.#all)) {
      let minutes = cost;
      const next = this.#after(this.#all, test);
      for (const split of splits) minutes += (split.weight / weight) * this.#greedyFrom({ ...next, groups: split.groups });
      if (minutes < best.minutes) best = { test, minutes, isOptimal: false };
    }
    return best.test === null ? { test: null, minutes: 0, isOptimal: false } : best;
  }

  greedyFromStart(): number {
    return this.#greedyFrom(this.#all);
  }

  #bestFrom(situation: Situation): { test: number | null; minutes: number } {
    let best = { test: null as number | null, minutes: Infinity };
    for (const { test, cost, splits, weight } of this.#options(situation)) {
      if (cost >= best.minutes) break; // options come by cost
      let minutes = cost;
      const next = this.#after(situation, test);
      for (const split of splits) {
        minutes += (split.weight / weight) * this.#value({ ...next, groups: split.groups });
        if (minutes >= best.minutes) break;
      }
      if (minutes < best.minutes) best = { test, minutes };
    }
    return best.test === null ? { test: null, minutes: 0 } : best;
  }

  #value(situation: Situation): number {
    const key = this.#key(situation);
    let value = this.#best.get(key);
    if (value === undefined) {
      if (this.#best.size >= this.#effort) throw new OutOfEffort();
      value = this.#bestFrom(situation).minutes;
      this.#best.set(key, value);
    }
    return value;
  }

  #greedyFrom(situation: Situation): number {
    const key = this.#key(situation);
    const known = this.#greedy.get(key);
    if (known !== undefined) return known;
    let chosen: { test: number; cost: number; splits: readonly Split[]; weight: number } | null = null;
    let most = -Infinity;
    for (const option of this.#options(situation)) {
      const information = option.splits.reduce((sum, split) => sum - (split.weight / option.weight) * Math.log(split.weight / option.weight), 0);
      const rate = information / Math.max(option.cost, 1e-9);
      if (rate > most) [most, chosen] = [rate, option];
    }
    let minutes = 0;
    if (chosen !== null) {
      minutes = chosen.cost;
      const next = this.#after(situation, chosen.test);
      for (const split of chosen.splits) minutes += (split.weight / chosen.weight) * this.#greedyFrom({ ...next, groups: split.groups });
    }
    this.#greedy.set(key, minutes);
    return minutes;
  }

  /** Tests that tell something here, the cheapest first; none once the place is found. */
  #options(situation: Situation): { test: number; cost: number; splits: readonly Split[]; weight: number }[] {
    const { tests } = this.#problem;
    let splits = this.#splits.get(situation.groups);
    if (splits === undefined) {
      const isFound = this.#isFound(situation.groups);
      splits = tests.map((test) => (isFound ? null : this.#split(situation.groups, test)));
      this.#splits.set(situation.groups, splits);
    }
    const options: { test: number; cost: number; splits: readonly Split[]; weight: number }[] = [];
    splits.forEach((split, test) => {
      if (split !== null) options.push({ test, cost: this.#cost(situation, test), splits: split, weight: split.reduce((sum, part) => sum + part.weight, 0) });
    });
    return options.sort((left, right) => left.cost - right.cost);
  }

  #cost(situation: Situation, test: number): number {
    const { tests, panelMinutes, stateMinutes } = this.#problem;
    const own = tests[test] as PlanTest;
    let cost = own.minutes + (stateMinutes[situation.state]?.[own.state] ?? 0);
    for (const panel of own.panels) if ((situation.panels & (1 << panel)) === 0) cost += panelMinutes[panel] ?? 0;
    return cost;
  }

  #after(situation: Situation, test: number): Omit<Situation, 'groups'> {
    return { panels: situation.panels | (this.#testPanels[test] as number), state: (this.#problem.tests[test] as PlanTest).state };
  }

  /** The sets that a test parts the groups into, the likeliest first; null when it does not part them. */
  #split(groups: number, test: PlanTest): readonly Split[] | null {
    const byOutcome = new Map<number, { groups: number; weight: number }>();
    for (let group = 0; group < this.#problem.weights.length; group++) {
      if ((groups & (1 << group)) === 0) continue;
      const outcome = test.outcomes[group] as number;
      const part = byOutcome.get(outcome);
      if (part === undefined) byOutcome.set(outcome, { groups: 1 << group, weight: this.#problem.weights[group] as number });
      else {
        part.groups |= 1 << group;
        part.weight += this.#problem.weights[group] as number;
      }
    }
    return byOutcome.size < 2 ? null : [...byOutcome.values()].sort((left, right) => right.weight - left.weight);
  }

  #isFound(groups: number): boolean {
    const byPlace = new Map<number, number>();
    let total = 0;
    for (let group = 0; group < this.#problem.weights.length; group++) {
      if ((groups & (1 << group)) === 0) continue;
      const weight = this.#problem.weights[group] as number;
      const place = this.#problem.places[group] as number;
      total += weight;
      byPlace.set(place, (byPlace.get(place) ?? 0) + weight);
    }
    return byPlace.size === 1 || Math.max(...byPlace.values()) >= this.#problem.sure * total;
  }

  #key({ groups, panels, state }: Situation): number {
    return (groups * 2 ** MOST_PANELS + panels) * 16 + state;
  }
}
