/** From the chart to the resistive network that the model solves. */
import type { Circuit, CircuitPart, Leak } from '../diagnosis/circuit/index.ts';
import { wireOhms } from '../diagnosis/circuit/index.ts';
import type { Chart } from './chart.ts';
import { batteryOf, pointOf } from './chart.ts';

/**
 * The chart as a circuit: spans get the resistance of their copper and of the joints at both ends.
 * @param temperature  of the conductors, degC
 * @param leaks  between points of different wires, when known
 * @throws {RangeError} for a chart without a battery
 */
export function circuitOf(chart: Chart, temperature = 20, leaks: readonly Leak[] = []): Circuit {
  const battery = batteryOf(chart);
  if (battery === undefined) throw new RangeError('the chart has no battery');
  const spans = chart.spans.map((span): CircuitPart => {
    const fromJointOhms = pointOf(chart, span.from)?.jointOhms ?? 0;
    const toJointOhms = pointOf(chart, span.to)?.jointOhms ?? 0;
    return {
      id: span.id, from: span.from, to: span.to, kind: 'span', fromJointOhms, toJointOhms,
      ohms: wireOhms(span.length, span.crossSection, temperature) + fromJointOhms + toJointOhms,
    };
  });
  const components = chart.components.map((component): CircuitPart => ({
    id: component.id, from: component.from, to: component.to, kind: component.kind, ohms: component.ohms,
    ...(component.kind === 'battery' ? { volts: component.volts } : {}),
    ...(component.kind === 'fuse' ? { amps: component.amps } : {}),
    ...(component.kind === 'load' && component.coldOhms !== undefined ? { coldOhms: component.coldOhms } : {}),
  }));
  const connectors: Record<string, string> = {};
  for (const point of chart.points) if (point.connector !== undefined) connectors[point.id] = point.connector;
  return { parts: [...spans, ...components], leaks, connectors, ground: battery.to, chassis: chart.chassis ?? battery.to, supply: battery.from };
}
