/** What may be wrong with a circuit of the chart, and how likely that is before any reading. */
import type { Suspect } from '../diagnosis/locate/index.ts';
import type { Chart, ChartSpan, SpanExposure } from './chart.ts';
import { pointOf } from './chart.ts';
import { isSpan } from './chart-paths.ts';

/** Chances per span against each other, common practice, no source. */
const KIND_WEIGHT = { open: 1, intermittent: 1.5, 'high-resistance': 1.5, 'short-to-ground': 0.5, 'short-to-supply': 0.1, 'short-between': 0.2 } as const;
/** What an exposure multiplies them by, common practice, no source. */
type SpanFault = keyof typeof KIND_WEIGHT;
const EXPOSED: Record<SpanExposure, Partial<Record<SpanFault, number>>> = {
  flex: { open: 3, intermittent: 4, 'high-resistance': 2 },
  heat: { open: 1.3, 'high-resistance': 1.5, 'short-to-ground': 1.5, 'short-between': 2 },
  damp: { 'high-resistance': 3, open: 1.5, 'short-between': 1.5 },
  abrasion: { 'short-to-ground': 4, 'short-between': 2, open: 1.5 },
};
/** Components against a span, and the case that nothing on the chart is wrong. */
const FUSE_WEIGHT = { open: 1, 'high-resistance': 0.2 } as const;
const CONTACT_WEIGHT = { open: 0.8, intermittent: 0.8, 'high-resistance': 1 } as const;
const LOAD_WEIGHT = { open: 1.5 } as const;
const NOTHING_WEIGHT = 0.05;

/**
 * Suspects of a circuit: every span with every fault, fuses, contacts and loads with theirs, and "nothing".
 * Shorts between are suspected where spans share a route.
 * @throws {RangeError} for a circuit that the chart does not have
 */
export function suspectsFor(chart: Chart, circuitId: string): Suspect[] {
  const circuit = chart.circuits.find((own) => own.id === circuitId);
  if (circuit === undefined) throw new RangeError(`the chart has no circuit "${circuitId}"`);
  const suspects: Suspect[] = [];
  for (const part of [...chart.spans, ...chart.components].filter((own) => circuit.parts.includes(own.id))) {
    if (isSpan(part)) suspects.push(...spanSuspects(chart, part));
    else if (part.kind === 'fuse') suspects.push({ kind: 'open', at: part.id, weight: FUSE_WEIGHT.open }, { kind: 'high-resistance', at: part.id, weight: FUSE_WEIGHT['high-resistance'] });
    else if (part.kind === 'load') suspects.push({ kind: 'open', at: part.id, weight: LOAD_WEIGHT.open });
    else if (part.kind === 'contact') {
      suspects.push(
        { kind: 'open', at: part.id, weight: CONTACT_WEIGHT.open }, { kind: 'open', at: part.id, intermittent: true, weight: CONTACT_WEIGHT.intermittent },
        { kind: 'high-resistance', at: part.id, weight: CONTACT_WEIGHT['high-resistance'] },
      );
    }
  }
  return [...suspects, { kind: 'none', at: '', weight: NOTHING_WEIGHT }];
}

function spanSuspects(chart: Chart, span: ChartSpan): Suspect[] {
  // A long wire suffers more; so does one with joints.
  const joints = [span.from, span.to].filter((point) => ['pin', 'splice', 'stud', 'terminal'].includes(pointOf(chart, point)?.kind ?? '')).length;
  const size = 0.5 + 0.2 * Math.min(span.length, 5) + 0.25 * joints;
  const weight = (kind: SpanFault): number => size * span.exposures.reduce<number>((product, exposure) => product * (EXPOSED[exposure][kind] ?? 1), KIND_WEIGHT[kind]);
  const neighbours = span.route === '' ? [] : chart.spans.filter((other) => other.id > span.id && other.route === span.route && other.from !== span.from && other.to !== span.to && other.from !== span.to && other.to !== span.from);
  return [
    { kind: 'open', at: span.id, weight: weight('open') },
    { kind: 'open', at: span.id, intermittent: true, weight: weight('intermittent') },
    { kind: 'high-resistance', at: span.id, weight: weight('high-resistance') },
    { kind: 'short-to-ground', at: span.id, weight: weight('short-to-ground') },
    { kind: 'short-to-supply', at: span.id, weight: weight('short-to-supply') },
    ...neighbours.map((other): Suspect => ({ kind: 'short-between', at: span.id, other: other.id, weight: weight('short-between') / neighbours.length })),
  ];
}
