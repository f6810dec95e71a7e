/** The checks that a session offers: those of its chart, else one of each kind to be made by hand. Pure. */
import type { Chart } from './chart.ts';
import { checksFor } from './checks.ts';
import { checksByHand } from './hand-checks.ts';
import type { SystemVoltage } from './limits.ts';
import type { Check } from './session.ts';
import { SolvedChart } from './solved-chart.ts';

/** Conductors are taken to be this warm when nobody said, degC. */
export const CONDUCTORS_USUAL = 20;

/**
 * @param ambient  degC, null when not known
 * @param system  nominal voltage where there is no chart, V
 */
export function offeredChecks(chart: Chart | null, ambient: number | null, system: SystemVoltage = 12): Check[] {
  const temperature = ambient ?? CONDUCTORS_USUAL;
  const solved = chart === null || chart.circuits.length === 0 ? undefined : new SolvedChart(chart, temperature);
  const charted = chart === null || solved === undefined ? [] : chart.circuits.flatMap((circuit) => checksFor(chart, circuit.id, { temperature, solved }));
  // Two circuits may share a battery and fuses: the check is offered once.
  const once = new Map([...charted].reverse().map((check) => [check.id, check]));
  const inOrder = charted.filter((check) => once.get(check.id) === check);
  return inOrder.length > 0 ? inOrder : checksByHand(chart?.systemVoltage ?? system);
}
