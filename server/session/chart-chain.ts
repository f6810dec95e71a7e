/** The one line from the battery through a load and back, on which points of several meters can be compared. Pure. */
import type { Chain } from '../diagnosis/coincidence.ts';
import type { Chart } from './chart.ts';
import { batteryOf } from './chart.ts';
import { pointsInside, wayBetween } from './chart-paths.ts';

/** @returns the line that holds all these points, in order from supply to return; null when no load has one */
export function chainThrough(chart: Chart, points: readonly string[]): Chain | null {
  const battery = batteryOf(chart);
  if (battery === undefined) return null;
  for (const load of chart.components) {
    if (load.kind !== 'load') continue;
    const supply = wayBetween(chart, battery.from, load.from);
    const ground = wayBetween(chart, load.to, battery.to);
    if (supply === null || ground === null) continue;
    const before = [battery.from, ...pointsInside(supply, battery.from), load.from];
    const after = [load.to, ...pointsInside(ground, load.to), battery.to];
    const line = [...new Set([...before, ...after])];
    if (points.every((point) => line.includes(point))) return { points: line, loadAfter: load.from };
  }
  return null;
}
