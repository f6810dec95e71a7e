/**
 * The next check at the least expected cost in minutes. Pure, imports nothing. Read plan.ts.
 */
export { MOST_GROUPS, MOST_PANELS, greedyMinutes, planNext } from './plan.ts';
export type { Plan, PlanProblem, PlanTest } from './plan.ts';
