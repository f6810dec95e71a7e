/** Every check that could tell something about a circuit, with what it costs in minutes: what the search for the next check chooses from. */
import type { Arrangement } from '../diagnosis/circuit/index.ts';
import { AS_FOUND, half } from '../diagnosis/circuit/index.ts';
import type { Bench, Candidate, Probe } from '../diagnosis/locate/index.ts';
import type { Chart } from './chart.ts';
import { batteryOf, pointOf } from './chart.ts';
import { idsOf } from './check-function.ts';
import { isSpan, stretches, wayBetween } from './chart-paths.ts';
import type { MeterClass } from './meter-uncertainty.ts';
import { HAND_HELD, standardUncertainty } from './meter-uncertainty.ts';

/** Minutes, common practice, no source; the access minutes of points and panels are the chart's. */
export const MINUTES = {
  read: 0.4,
  /** Battery off, loads unplugged; back again costs the same. */
  dead: 3,
  /** Fuses and relay out besides. */
  isolate: 1,
  /** Pulling a connector apart and joining it. */
  unplug: 1,
  /** Price of touching what was as found: a wiped contact may hide the fault for good. */
  evidence: 4,
  flex: 1,
} as const;

/** States that a circuit is worked in, from as found to taken apart. */
export const CIRCUIT_STATES = ['as found', 'dead', 'isolated'] as const;
export type CircuitState = (typeof CIRCUIT_STATES)[number];

/**
 * The candidates of a circuit and their costs. Points of a restraint system are left out.
 * @throws {RangeError} for a circuit that the chart does not have
 */
export function benchFor(chart: Chart, circuitId: string, meter: MeterClass = HAND_HELD): Bench {
  const panelMinutes: Record<string, number> = {};
  for (const panel of chart.panels) panelMinutes[panel.id] = panel.minutes;
  return {
    candidates: candidatesFor(chart, circuitId), panelMinutes, stateMinutes,
    uncertainty: (quantity, value) => standardUncertainty(meter, quantity, value),
  };
}

function stateMinutes(from: string, to: string): number {
  const place = (name: string): number => Math.max(0, CIRCUIT_STATES.indexOf(name as CircuitState));
  const [a, b] = [place(from), place(to)];
  if (a === b) return 0;
  const between = [MINUTES.dead, MINUTES.isolate].slice(Math.min(a, b), Math.max(a, b)).reduce<number>((sum, minutes) => sum + minutes, 0);
  return between + (a === 0 ? MINUTES.evidence : 0);
}

export function candidatesFor(chart: Chart, circuitId: string): Candidate[] {
  const circuit = chart.circuits.find((own) => own.id === circuitId);
  if (circuit === undefined) throw new RangeError(`the chart has no circuit "${circuitId}"`);
  const battery = batteryOf(chart);
  if (battery === undefined) throw new RangeError('the chart has no battery');
  const parts = [...chart.spans, ...chart.components].filter((part) => circuit.parts.includes(part.id));
  const points = [...new Set(parts.flatMap((part) => [part.from, part.to]))].filter((point) => pointOf(chart, point)?.restraint !== true);
  const candidates: Candidate[] = [];

  const add = (id: string, quantity: Probe['quantity'], red: string, black: string, state: CircuitState, arrangement: Arrangement, touched: readonly string[], more: number, flexing?: Candidate['flexing']): void => {
    if (touched.some((point) => !points.includes(point))) return;
    // A clip stays on the battery post.
    const reach = touched.filter((point) => point !== battery.to).reduce((sum, point) => sum + (pointOf(chart, point)?.accessMinutes ?? 0), 0);
    const panels = [...new Set(touched.flatMap((point) => pointOf(chart, point)?.panel ?? []))];
    candidates.push({ probe: { id, arrangement, quantity, red, black }, minutes: MINUTES.read + reach + more, panels, state, ...(flexing === undefined ? {} : { flexing }) });
  };

  // As found, with the load on: potential of each point, and the drop over each part.
  for (const point of points) if (point !== battery.to) add(`volts ${point}`, 'voltage', point, battery.to, 'as found', AS_FOUND, [point, battery.to], 0);
  for (const part of parts) {
    if (part.id === battery.id || (!isSpan(part) && part.kind === 'load')) continue;
    add(`drop ${part.id}`, 'voltage', part.from, part.to, 'as found', AS_FOUND, [part.from, part.to], 0);
  }
  // Wiggle takes: everything flexed, watched at each load; then one span at a time, watched where it shows with the least trouble.
  const loads = parts.flatMap((part) => (!isSpan(part) && part.kind === 'load' ? [part] : []));
  const views = loads.flatMap((load) => [
    { point: load.from, name: `supply of ${load.id}`, way: wayBetween(chart, battery.from, load.from) },
    { point: load.to, name: `ground of ${load.id}`, way: wayBetween(chart, load.to, battery.to) },
  ]).sort((left, right) => reachMinutes(chart, left.point) - reachMinutes(chart, right.point));
  for (const { point, name } of views) add(`wiggle all, ${name}`, 'voltage', point, battery.to, 'as found', AS_FOUND, [point, battery.to], 2 * MINUTES.flex, { flexes: 60, dropouts: 0 });
  // A span is flexed, a relay or switch is tapped.
  for (const part of parts.filter((own) => isSpan(own) || own.kind === 'contact')) {
    const shown = views.filter(({ way }) => way?.includes(part) === true);
    for (const { point, name } of (shown.length > 0 ? shown : views).slice(0, 1)) {
      add(`wiggle ${part.id}, ${name}`, 'voltage', point, battery.to, 'as found', AS_FOUND, [point, battery.to], MINUTES.flex, { flexes: 60, parts: [part.id], dropouts: 0 });
    }
  }
  // Isolated: each stretch against ground and supply, whole and parted at each of its connectors.
  const isolated: Arrangement = { removed: idsOf(chart, 'battery', 'load', 'fuse', 'contact'), unplugged: [] };
  for (const stretch of stretches(chart).filter((own) => own.some((point) => points.includes(point)))) {
    for (const [to, name] of [[chart.chassis ?? battery.to, 'ground'], [battery.from, 'supply']] as const) {
      if (stretch.includes(to)) continue;
      const easy = [...stretch].filter((point) => points.includes(point)).sort((left, right) => reachMinutes(chart, left) - reachMinutes(chart, right))[0];
      if (easy !== undefined) add(`insulation ${easy} to ${name}`, 'resistance', easy, to, 'isolated', isolated, [easy], 0);
      for (const point of stretch) {
        const connector = pointOf(chart, point)?.connector;
        if (connector === undefined) continue;
        for (const side of ['in', 'out'] as const) {
          if (!chart.spans.some((span) => (side === 'in' ? span.to : span.from) === point)) continue;
          const target = pointOf(chart, to)?.connector === connector ? null : to;
          if (target !== null) add(`insulation ${point} ${side} to ${name}`, 'resistance', half(point, side), target, 'isolated', { ...isolated, unplugged: [connector] }, [point], MINUTES.unplug);
        }
      }
    }
  }
  return candidates;
}

/** Minutes to reach a point with everything closed. */
export function reachMinutes(chart: Chart, id: string): number {
  const point = pointOf(chart, id);
  return (point?.accessMinutes ?? 0) + (chart.panels.find((panel) => panel.id === point?.panel)?.minutes ?? 0);
}
