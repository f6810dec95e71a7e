/** What a check reads by the model: the joint between the chart and the circuit model. */
import type { Arrangement, Circuit, Fault } from '../diagnosis/circuit/index.ts';
import { SolvedCircuit, solveCircuit, wholePoint } from '../diagnosis/circuit/index.ts';
import type { Chart } from './chart.ts';
import { arrangementOf, quantityOf } from './check-function.ts';
import type { Check } from './session.ts';

/** What the current function puts in series, ohm (common practice for the 10 A jack with its fuse and leads, no source). */
export const METER_SHUNT_OHMS = 0.03;

/**
 * What a meter reads at this check, SI: Infinity for over-range. A lead on a place that the chart
 * does not know hangs in the air: 0 V, 0 A, over-range on ohms.
 * @param circuit  `circuitOf(chart)`, at the temperature of the day
 */
export function readingOf(chart: Chart, circuit: Circuit, check: Check, faults: readonly Fault[] = []): number {
  return readingBy((arrangement) => solveCircuit(circuit, arrangement, faults), chart, check);
}

/** The same, where the circuit is solved by `solve` in the states that it takes. */
export function readingBy(solve: (arrangement: Arrangement) => SolvedCircuit, chart: Chart, check: Check): number {
  const quantity = quantityOf(check);
  const known = (point: string): boolean => chart.points.some((own) => own.id === wholePoint(point));
  if (!known(check.red) || !known(check.black)) return quantity === 'resistance' ? Infinity : 0;
  const arrangement = arrangementOf(chart, check);
  const isBroken = (part: { from: string; to: string }): boolean =>
    (part.from === check.red && part.to === check.black) || (part.from === check.black && part.to === check.red);
  if (quantity === 'current') {
    // The meter takes the place of whatever joins the two points.
    const broken = [...chart.spans, ...chart.components].filter(isBroken).map((part) => part.id);
    const solved = solve(without(arrangement, broken));
    return solved.openVoltage(check.red, check.black) / (solved.network.resistance(check.red, check.black) + METER_SHUNT_OHMS);
  }
  return leadsReading(solve(arrangement), check);
}

/** The same, in a circuit that is solved already. Volts and ohms only. */
export function leadsReading(solved: SolvedCircuit, check: Check): number {
  if (quantityOf(check) === 'resistance') return solved.ohms(check.red, check.black);
  return check.lamp === true ? solved.voltsWithLamp(check.red, check.black) : solved.volts(check.red, check.black);
}

function without(arrangement: Arrangement, parts: readonly string[]): Arrangement {
  return { removed: [...arrangement.removed, ...parts], unplugged: arrangement.unplugged };
}
