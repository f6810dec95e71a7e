import { describe, expect, it } from 'vitest';
import type { PlanProblem, PlanTest } from '../../../server/diagnosis/planner/index.ts';
import { MOST_GROUPS, greedyMinutes, planNext } from '../../../server/diagnosis/planner/index.ts';
import { Random } from '../../signals/random.ts';

const SEED = Math.floor(Math.random() * 2 ** 31);

interface Chain { readonly weights: number[]; readonly minutes: number[]; readonly panels: (number | null)[]; readonly panelMinutes: number[] }

/** A wire of so many spans with a point between each two: a reading there says on which side the break is. */
function randomChain(random: Random, spans: number, panels: number): Chain {
  return {
    weights: Array.from({ length: spans }, () => random.logBetween(0.05, 1)),
    minutes: Array.from({ length: spans - 1 }, () => random.between(0.5, 6)),
    panels: Array.from({ length: spans - 1 }, () => (random.chance(0.6) && panels > 0 ? random.integer(0, panels - 1) : null)),
    panelMinutes: Array.from({ length: panels }, () => random.between(1, 20)),
  };
}

function problemOf(chain: Chain): PlanProblem {
  const tests = chain.minutes.map((minutes, point): PlanTest => ({
    outcomes: chain.weights.map((_, span) => (span <= point ? 0 : 1)), minutes, panels: chain.panels[point] === null ? [] : [chain.panels[point] as number], state: 0,
  }));
  return { weights: chain.weights, places: chain.weights.map((_, span) => span), tests, panelMinutes: chain.panelMinutes, stateMinutes: [[0]], openPanels: [], state: 0, sure: 1 };
}

/** Dynamic programming on the chain itself: state is the stretch that is left and the panels that are off. */
function chainOptimum({ weights, minutes, panels, panelMinutes }: Chain): number {
  const known = new Map<string, number>();
  const weigh = (from: number, to: number): number => weights.slice(from, to + 1).reduce((sum, weight) => sum + weight, 0);
  const best = (from: number, to: number, off: ReadonlySet<number>): number => {
    if (from === to) return 0;
    const key = `${from} ${to} ${[...off].sort().join()}`;
    let value = known.get(key);
    if (value === undefined) {
      value = Infinity;
      for (let point = from; point < to; point++) {
        const panel = panels[point] ?? null;
        const cost = (minutes[point] as number) + (panel === null || off.has(panel) ? 0 : (panelMinutes[panel] as number));
        const after = panel === null ? off : new Set([...off, panel]);
        const total = weigh(from, to);
        value = Math.min(value, cost + (weigh(from, point) / total) * best(from, point, after) + (weigh(point + 1, to) / total) * best(point + 1, to, after));
      }
      known.set(key, value);
    }
    return value;
  };
  return best(0, weights.length - 1, new Set());
}

/** Every plan there is, tried one by one, with nothing remembered and no thought of chains. */
function bruteForce(problem: PlanProblem, groups = problem.weights.map((_, group) => group), off: readonly number[] = problem.openPanels, state = problem.state): number {
  if (new Set(groups.map((group) => problem.places[group])).size === 1) return 0;
  const total = groups.reduce((sum, group) => sum + (problem.weights[group] as number), 0);
  let best = Infinity;
  for (const test of problem.tests) {
    const outcomes = [...new Set(groups.map((group) => test.outcomes[group]))];
    if (outcomes.length < 2) continue;
    let cost = test.minutes + (problem.stateMinutes[state]?.[test.state] ?? 0);
    for (const panel of test.panels) if (!off.includes(panel)) cost += problem.panelMinutes[panel] as number;
    for (const outcome of outcomes) {
      const left = groups.filter((group) => test.outcomes[group] === outcome);
      cost += (left.reduce((sum, group) => sum + (problem.weights[group] as number), 0) / total) * bruteForce(problem, left, [...off, ...test.panels], test.state);
    }
    best = Math.min(best, cost);
  }
  return best === Infinity ? 0 : best;
}

describe(`planNext(problem), seed ${SEED}`, () => {
  const random = new Random(SEED);

  it('equals the exact optimum on 60 plain chains of up to 12 spans, panels off as part of the state', () => {
    for (let trial = 0; trial < 60; trial++) {
      const chain = randomChain(random, random.integer(2, 12), random.integer(0, 4));
      const plan = planNext(problemOf(chain));
      expect(plan.isOptimal).toBe(true);
      expect(plan.minutes).toBeCloseTo(chainOptimum(chain), 9);
    }
  });

  it('agrees with the brute force over every plan, and so does the dynamic programming it is compared with', () => {
    for (let trial = 0; trial < 40; trial++) {
      const chain = randomChain(random, random.integer(2, 7), random.integer(0, 3));
      const brute = bruteForce(problemOf(chain));
      expect(planNext(problemOf(chain)).minutes).toBeCloseTo(brute, 9);
      expect(chainOptimum(chain)).toBeCloseTo(brute, 9);
    }
  });

  it('agrees with the brute force where tests part the groups anyhow and the state of the circuit changes', () => {
    for (let trial = 0; trial < 40; trial++) {
      const groups = random.integer(2, 5);
      const problem: PlanProblem = {
        weights: Array.from({ length: groups }, () => random.between(0.1, 1)),
        places: Array.from({ length: groups }, () => random.integer(0, 3)),
        tests: Array.from({ length: 5 }, () => ({
          outcomes: Array.from({ length: groups }, () => random.integer(0, 2)), minutes: random.between(0.5, 5), panels: random.chance(0.5) ? [random.integer(0, 1)] : [], state: random.integer(0, 1),
        })),
        panelMinutes: [random.between(1, 10), random.between(1, 10)], stateMinutes: [[0, 4], [3, 0]], openPanels: [], state: 0, sure: 1,
      };
      expect(planNext(problem).minutes).toBeCloseTo(bruteForce(problem), 9);
    }
  });

  it('is never worse than its own greedy rule when it has to give up the full search', () => {
    for (let trial = 0; trial < 20; trial++) {
      const problem = problemOf(randomChain(random, 14, 5));
      const hasty = planNext(problem, 1);
      expect(hasty.isOptimal).toBe(false);
      expect(hasty.minutes).toBeLessThanOrEqual(greedyMinutes(problem) + 1e-9);
      expect(hasty.minutes).toBeGreaterThanOrEqual(planNext(problem, 1e6).minutes - 1e-9);
    }
  });

  it('prefers a test behind a panel that is off already, and stops when one place is left or sure enough', () => {
    const chain: Chain = { weights: [1, 1, 1, 1], minutes: [1, 1, 1], panels: [null, 0, null], panelMinutes: [30] };
    expect(planNext(problemOf(chain)).test).not.toBe(1);
    expect(planNext({ ...problemOf(chain), openPanels: [0] }).test).toBe(1);
    expect(planNext({ ...problemOf(chain), places: [0, 0, 0, 0] })).toMatchObject({ test: null, minutes: 0 });
    expect(planNext({ ...problemOf({ ...chain, weights: [1, 0.001, 0.001, 0.001] }), sure: 0.98 }).test).toBeNull();
  });

  it('refuses more groups than it can hold', () => {
    expect(() => planNext({ ...problemOf(randomChain(random, 3, 0)), weights: new Array<number>(MOST_GROUPS + 1).fill(1) })).toThrow(RangeError);
  });
});
