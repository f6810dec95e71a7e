/** The checks that a session offers: those of its chart, else one of each kind to be made by hand. Pure. */
import type { Chart } from './chart.ts';
import { checksFor } from './checks.ts';
import { checksByHand } from './hand-checks.ts';
import type { SystemVoltage } from './limits.ts';
import type { Check } from './session.ts';

/** Conductors are taken to be this warm when nobody said, degC. */
export const CONDUCTORS_USUAL = 20;

/**
 * @param ambient  degC, null when not known
 * @param system  nominal voltage where there is no chart, V
 */
export function offeredChecks(chart: Chart | null, ambient: number | null, system: SystemVoltage = 12): Check[] {
  const temperature = ambient ?? CONDUCTORS_USUAL;
  const charted = chart === null ? [] : chart.circuits.flatMap((circuit) => checksFor(chart, circuit.id, { temperature }));
  // Two circuits may share a battery and fuses: the check is offered once.
  const once = charted.filter((check, order) => charted.findIndex((other) => other.id === check.id) === order);
  return once.length > 0 ? once : checksByHand(chart?.systemVoltage ?? system);
}
