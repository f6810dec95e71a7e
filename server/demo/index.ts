/**
 * The demo session without hardware: the invented platform "Alder 7" as a chart (alder7-chart.ts,
 * read first), its hidden fault, and the signal that the simulated meter is handed (alder7.ts).
 * May import session, diagnosis and the Reading type.
 */
export {
  ALDER7_CRIMP_OHMS, ALDER7_FAULTY_SPAN, alder7Checks, alder7DefaultCheck, alder7Faults, alder7FaultsAtRest, simulatedSignal,
} from './alder7.ts';
export { alder7Chart } from './alder7-chart.ts';
export { createDemo } from './demo.ts';
export { FOLDING, FoldingSchedule } from './folding.ts';
export type { Alder7Fault, SignalOptions, TrueSignal } from './alder7.ts';
export type { Demo } from './demo.ts';
export type { Open } from './folding.ts';
