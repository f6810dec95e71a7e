/** Zones of the harness to be flexed for a check, as its chart tells them. Pure. */
import type { Chart } from './chart.ts';
import { batteryOf } from './chart.ts';
import { isSpan, wayBetween } from './chart-paths.ts';
import type { Check } from './session.ts';

/**
 * Where the wires run between which the break must lie, in order from the supply to the ground: the stretch between the leads; for a
 * supply measured against the battery, the stretch from the battery to the red lead. Spans that run the same way are one zone; a
 * span without words for its way is named by its ends.
 * @returns empty when the chart knows no way between these points
 */
export function zonesAlong(chart: Chart, check: Pick<Check, 'kind' | 'red' | 'black'>): string[] {
  const battery = batteryOf(chart);
  const isSupply = (check.kind === 'supply' || check.kind === 'switched-supply') && battery?.to === check.black;
  const way = isSupply ? wayBetween(chart, battery.from, check.red) : wayBetween(chart, check.red, check.black);
  const zones = (way ?? []).filter(isSpan).map((span) => (span.route === '' ? span.id : span.route));
  return [...new Set(zones)];
}
