/** What loads the circuit where a check is made, by the chart: what a bad joint there would have to stand out against. */
import type { SolvedCircuit } from '../diagnosis/circuit/index.ts';
import { TEST_LAMP_OHMS } from '../diagnosis/circuit/index.ts';
import type { CheckKind, CheckLoad } from '../diagnosis/judgement.ts';
import type { Chart } from './chart.ts';
import { wayBetween } from './chart-paths.ts';
import { voltageFactor } from './limits.ts';

/** A current of less than this is that of the meter alone, A (common practice, no source). */
const LEAST_AMPS = 1e-3;

/**
 * Load by the smallest current along the way that the check is about: supply checks the way from the battery to the red lead, drops that
 * between the leads. Where branches join, a joint in the branch with the least current shows least.
 * @param solved  the chart in the state of the check
 * @returns null where nothing loads it
 */
export function checkLoad(
  chart: Chart, battery: { readonly from: string; readonly volts: number }, solved: SolvedCircuit,
  check: { readonly kind: CheckKind; readonly red: string; readonly black: string; readonly lamp?: boolean },
): CheckLoad | null {
  if (check.lamp === true) return { ohms: TEST_LAMP_OHMS * voltageFactor(chart.systemVoltage) ** 2, volts: battery.volts };
  const isSupply = check.kind === 'supply' || check.kind === 'switched-supply';
  if (!isSupply && check.kind !== 'ground' && check.kind !== 'voltage-drop' && check.kind !== 'fuse') return null;
  const way = wayBetween(chart, isSupply ? battery.from : check.red, isSupply ? check.red : check.black) ?? [];
  const amps = Math.min(...way.map((part) => Math.abs(solved.current(part.id))));
  return Number.isFinite(amps) && amps >= LEAST_AMPS ? { ohms: battery.volts / amps, volts: battery.volts } : null;
}
