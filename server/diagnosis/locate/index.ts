/**
 * From readings to the place of the fault: chance of each suspect (locator.ts, read first), and the
 * check to make next (next-check.ts). May import circuit, planner and ml-matrix. suspects.ts says what can be
 * wrong, faulted.ts what is read then, likelihood.ts how well that fits, tolerance.ts how far a
 * circuit may be from its chart.
 */
export { doubleFaults } from './double.ts';
export { FaultSolver } from './faulted.ts';
export { Locator } from './locator.ts';
export { SURE, costOf, nextChecks } from './next-check.ts';
export { outlooks } from './outlook.ts';
export { isSamePlace } from './probe.ts';
export { FAULT_OHMS, hypothesesOf, placeOf, suspectKey } from './suspects.ts';
export { USUAL_TOLERANCE, partDeviations } from './tolerance.ts';
export type { DoubleFault, DoubleFaults, SizedSuspect } from './double.ts';
export type { Contradiction, Expected, LocatorSetup } from './locator.ts';
export type { Bench, Candidate, NextChecks, Standing } from './next-check.ts';
export type { Outlook } from './outlook.ts';
export type { Flexing, Observation, Probe, Symptom } from './probe.ts';
export type { Hypothesis, Suspect } from './suspects.ts';
export type { Tolerance } from './tolerance.ts';
