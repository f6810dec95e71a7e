/** Ways and stretches of wire through a chart. */
import type { Chart, ChartSpan, ChartComponent } from './chart.ts';

export type ChartPart = ChartSpan | ChartComponent;

/** Through what a way may go. */
export type PartFilter = (part: ChartPart) => boolean;

export function isSpan(part: ChartPart): part is ChartSpan {
  return 'crossSection' in part;
}

/** Spans, fuses and closed contacts: everything but loads and batteries. */
export const throughWires: PartFilter = (part) => isSpan(part) || part.kind === 'fuse' || part.kind === 'contact';

/** The way with the fewest parts from one point to another, in order; null when there is none. */
export function wayBetween(chart: Chart, from: string, to: string, may: PartFilter = throughWires): ChartPart[] | null {
  const parts: readonly ChartPart[] = [...chart.spans, ...chart.components].filter(may);
  const reached = new Map<string, ChartPart[]>([[from, []]]);
  for (const [point, way] of reached) {
    if (point === to) return way;
    for (const part of parts) {
      const next = part.from === point ? part.to : part.to === point ? part.from : null;
      if (next !== null && !reached.has(next)) reached.set(next, [...way, part]);
    }
  }
  return null;
}

/** Points inside a way, its two ends left out: where its joints are. */
export function pointsInside(way: readonly ChartPart[], from: string): string[] {
  const points: string[] = [];
  let at = from;
  for (const part of way) {
    at = part.from === at ? part.to : part.from;
    points.push(at);
  }
  return points.slice(0, -1);
}

/** Points joined by spans alone: one stretch of wire, which is what a short check isolates. */
export function stretches(chart: Chart): string[][] {
  const left = new Set(chart.points.map((point) => point.id));
  const found: string[][] = [];
  for (const start of left) {
    const stretch = new Set([start]);
    for (const point of stretch) {
      for (const span of chart.spans) {
        if (span.from === point) stretch.add(span.to);
        if (span.to === point) stretch.add(span.from);
      }
    }
    for (const point of stretch) left.delete(point);
    found.push([...stretch]);
  }
  return found;
}
