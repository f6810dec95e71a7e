/**
 * One case to locate: a chart, the complaint, the readings so far. Reads it from outside, gives the chance of
 * each fault, the next check and the readings that contradict the others.
 */
import { z } from 'zod';
import type { Arrangement } from '../diagnosis/circuit/index.ts';
import type { Candidate, Flexing, Observation, Probe, Standing, Suspect, Symptom } from '../diagnosis/locate/index.ts';
import { Locator, nextChecks } from '../diagnosis/locate/index.ts';
import { CHECK_KINDS } from '../diagnosis/judgement.ts';
import { benchFor } from './candidates.ts';
import type { Chart } from './chart.ts';
import { circuitOf } from './chart-circuit.ts';
import type { ChartProblem } from './chart-validation.ts';
import { problemOf, readChart, show } from './chart-validation.ts';
import { usualArrangement } from './check-function.ts';
import { checksFor } from './checks.ts';
import { suspectBrief, suspectWords } from './fault-words.ts';
import type { MeterClass } from './meter-uncertainty.ts';
import { HAND_HELD, standardUncertainty } from './meter-uncertainty.ts';
import type { Check } from './session.ts';
import { suspectsFor } from './suspects.ts';

/** A reading as a case holds it: by the id of a check of the circuit, or by its leads. */
export interface CaseReading {
  readonly check?: string;
  readonly kind?: Check['kind'];
  readonly red?: string;
  readonly black?: string;
  /** SI; null for over-range. */
  readonly value: number | null;
  /** Of the function that was used; by default that of the check or kind. */
  readonly quantity?: 'voltage' | 'resistance';
  /** Parts taken out and connectors pulled apart; by default those of the check or kind. */
  readonly removed?: readonly string[];
  readonly unplugged?: readonly string[];
  readonly lamp?: boolean;
  /** Standard uncertainty, SI; by default that of the meter. */
  readonly uncertainty?: number;
  readonly flexing?: Flexing;
}

export interface LocateCase {
  readonly chart: Chart;
  /** Id of the circuit; the only one by default. */
  readonly circuit: string;
  /** Of the conductors, degC. */
  readonly temperature: number;
  readonly meter: MeterClass;
  readonly symptoms: readonly Symptom[];
  readonly readings: readonly CaseReading[];
  /** Panels that are off. */
  readonly openPanels: readonly string[];
  /** State of the circuit now: "as found", "dead" or "isolated". */
  readonly state: string;
}

export interface LocatedFault {
  readonly kind: Suspect['kind'];
  /** Span or component; empty for `none`. */
  readonly at: string;
  readonly other?: string;
  readonly intermittent: boolean;
  readonly chance: number;
  /** Size, ohm, with its range; null where it has none. */
  readonly ohms: { readonly estimate: number; readonly low: number; readonly high: number } | null;
  readonly words: string;
  /** In a few words. */
  readonly brief: string;
}

export interface NextCheck {
  readonly check: string;
  readonly leads: { readonly red: string; readonly black: string };
  readonly minutes: number;
  /** What to do, in words. */
  readonly words: string;
  readonly candidate: Candidate;
}

export interface Located {
  readonly faults: readonly LocatedFault[];
  readonly next: readonly NextCheck[];
  /** The fault is found surely enough to open the harness there. */
  readonly isFound: boolean;
  /** Minutes that the search is expected to take from here. */
  readonly expectedMinutes: number;
  readonly contradictions: readonly { readonly reading: number; readonly check: string; readonly chance: number; readonly words: string }[];
}

export type ReadCase = { readonly kind: 'case'; readonly case: LocateCase } | { readonly kind: 'problems'; readonly problems: readonly ChartProblem[] };

const accuracy = z.object({ fraction: z.number().min(0).max(1), counts: z.number().min(0).max(1000) });
const caseShape = z.object({
  chart: z.unknown(),
  circuit: z.string().optional(),
  temperature: z.number().min(-60).max(200).default(20),
  meter: z.object({ displayCounts: z.number().gt(10), volts: accuracy, ohms: accuracy, leastOhms: z.number().gt(0), leastVolts: z.number().gt(0) }).default(HAND_HELD),
  symptoms: z.array(z.object({ load: z.string(), works: z.boolean() })).default([]),
  readings: z.array(z.object({
    check: z.string().optional(), kind: z.enum(CHECK_KINDS).optional(), red: z.string().optional(), black: z.string().optional(), value: z.number().nullable(),
    quantity: z.enum(['voltage', 'resistance']).optional(), removed: z.array(z.string()).optional(), unplugged: z.array(z.string()).optional(), lamp: z.boolean().optional(),
    uncertainty: z.number().gt(0).optional(),
    flexing: z.object({ flexes: z.number().int().min(1).max(1e6), dropouts: z.number().int().min(0), parts: z.array(z.string()).optional() }).optional(),
  })).max(500).default([]),
  openPanels: z.array(z.string()).default([]),
  state: z.enum(['as found', 'dead', 'isolated']).default('as found'),
});

/** Reads a case from data that came from outside. Never throws for bad data. */
export function readCase(input: unknown): ReadCase {
  const shaped = caseShape.safeParse(input);
  if (!shaped.success) return { kind: 'problems', problems: shaped.error.issues.map((issue) => problemOf(issue, input)) };
  const chart = readChart(shaped.data.chart);
  if (chart.kind === 'problems') return { kind: 'problems', problems: chart.problems.map((problem) => ({ ...problem, path: `chart.${problem.path}` })) };
  const circuit = shaped.data.circuit ?? chart.chart.circuits[0]?.id ?? '';
  const own: LocateCase = { ...shaped.data, chart: chart.chart, circuit };
  const problems = caseProblems(own);
  return problems.length > 0 ? { kind: 'problems', problems } : { kind: 'case', case: own };
}

function caseProblems(own: LocateCase): ChartProblem[] {
  const { chart } = own;
  const problems: ChartProblem[] = [];
  const say = (path: string, expected: string, got: unknown): void => void problems.push({ path, expected, got: show(got) });
  if (!chart.circuits.some((circuit) => circuit.id === own.circuit)) {
    say('circuit', 'the id of a circuit of the chart', own.circuit);
    return problems;
  }
  own.symptoms.forEach((symptom, order) => {
    if (!chart.components.some((component) => component.kind === 'load' && component.id === symptom.load)) say(`symptoms[${order}].load`, 'the id of a load', symptom.load);
  });
  const known = probesById(own);
  const parts = new Set([...chart.spans, ...chart.components].map((part) => part.id));
  own.readings.forEach((reading, order) => {
    const path = `readings[${order}]`;
    if (reading.check !== undefined) {
      if (!known.has(reading.check)) say(`${path}.check`, 'the id of a check of the circuit', reading.check);
    } else if (reading.kind === undefined || reading.red === undefined || reading.black === undefined) say(path, 'a check, or kind, red and black', reading);
    for (const end of ['red', 'black'] as const) {
      const point = reading[end]?.replace(/:(in|out)$/, '');
      if (point !== undefined && !chart.points.some((candidate) => candidate.id === point)) say(`${path}.${end}`, 'the id of a point', point);
    }
    for (const part of [...(reading.removed ?? []), ...(reading.flexing?.parts ?? [])]) if (!parts.has(part)) say(path, 'ids of spans and components', part);
  });
  return problems;
}

/**
 * Locates the fault of a case.
 * @param most  next checks to give, the best first
 */
export function locateCase(own: LocateCase, most = 3): Located {
  const { chart, circuit } = own;
  const known = probesById(own);
  const locator = new Locator({ circuit: circuitOf(chart, own.temperature), suspects: suspectsFor(chart, circuit), symptoms: own.symptoms });
  for (const reading of own.readings) locator.observe(observationOf(own, reading, known));

  const bench = benchFor(chart, circuit, own.meter);
  // What was read behind a panel has it off.
  const touched = locator.observations.flatMap(({ probe }) => [probe.red, probe.black].map((node) => node.replace(/:(in|out)$/, '')));
  const openPanels = [...new Set([...own.openPanels, ...chart.points.flatMap((point) => (point.panel !== undefined && touched.includes(point.id) ? [point.panel] : []))])];
  const standing: Standing = { openPanels, state: own.state };
  const first = nextChecks(locator, bench, standing);
  const next = [...first.next];
  // The next best: what would be best without the best.
  while (next.length > 0 && next.length < most) {
    const without = { ...bench, candidates: bench.candidates.filter((candidate) => !next.some((taken) => taken.candidate.probe.id === candidate.probe.id)) };
    const more = nextChecks(locator, without, standing, 500).next;
    if (more.length === 0) break;
    next.push(...more);
  }
  const faults = locator.chances()
    .map((chance, order): LocatedFault => {
      const suspect = locator.suspects[order] as Suspect;
      const size = locator.size(order);
      return {
        kind: suspect.kind, at: suspect.at, ...(suspect.other === undefined ? {} : { other: suspect.other }), intermittent: suspect.intermittent === true, chance,
        ohms: size === null ? null : { estimate: size.ohms, low: size.low, high: size.high }, words: suspectWords(chart, suspect, size), brief: suspectBrief(suspect, size),
      };
    })
    .filter((fault) => fault.chance >= 0.001)
    .sort((left, right) => right.chance - left.chance);
  return {
    faults, isFound: first.isFound, expectedMinutes: first.expectedMinutes,
    next: next.map(({ candidate, minutes }) => ({
      check: candidate.probe.id, leads: { red: candidate.probe.red, black: candidate.probe.black }, minutes, words: candidateWords(candidate, own, openPanels), candidate,
    })),
    contradictions: locator.contradictions().map(({ observation, chance }) => {
      const check = readingName(own.readings[observation] as CaseReading);
      return { reading: observation, check, chance, words: `The reading at "${check}" does not go with the others: repeat it before anything else.` };
    }),
  };
}

function readingName(reading: CaseReading): string {
  return reading.check ?? `${reading.kind ?? ''} ${reading.red ?? ''} to ${reading.black ?? ''}`;
}

function probesById(own: LocateCase): Map<string, Probe> {
  const probes = new Map<string, Probe>();
  for (const check of checksFor(own.chart, own.circuit, { temperature: own.temperature })) {
    if (check.kind === 'current') continue;
    probes.set(check.id, {
      id: check.id, arrangement: check.arrangement ?? usualArrangement(own.chart, check.kind), quantity: check.quantity === 'resistance' ? 'resistance' : 'voltage',
      red: check.red, black: check.black, ...(check.lamp === true ? { lamp: true } : {}),
    });
  }
  for (const { probe } of benchFor(own.chart, own.circuit, own.meter).candidates) probes.set(probe.id, probe);
  return probes;
}

function observationOf(own: LocateCase, reading: CaseReading, known: ReadonlyMap<string, Probe>): Observation {
  const base = reading.check === undefined ? null : known.get(reading.check) ?? null;
  const kind = reading.kind ?? 'voltage-drop';
  const onOhms = kind === 'continuity' || kind === 'resistance' || kind === 'short-to-ground' || kind === 'short-between';
  const usual: Arrangement = base?.arrangement ?? usualArrangement(own.chart, kind);
  const probe: Probe = {
    id: base?.id ?? readingName(reading),
    arrangement: reading.removed === undefined && reading.unplugged === undefined ? usual : { removed: reading.removed ?? usual.removed, unplugged: reading.unplugged ?? usual.unplugged },
    quantity: reading.quantity ?? base?.quantity ?? (onOhms ? 'resistance' : 'voltage'),
    red: reading.red ?? base?.red ?? '', black: reading.black ?? base?.black ?? '',
    ...(reading.lamp === true || base?.lamp === true ? { lamp: true } : {}),
  };
  const value = reading.value ?? Infinity;
  return {
    probe, value, uncertainty: reading.uncertainty ?? standardUncertainty(own.meter, probe.quantity, value), ...(reading.flexing === undefined ? {} : { flexing: reading.flexing }),
  };
}

function candidateWords(candidate: Candidate, own: LocateCase, openPanels: readonly string[]): string {
  const { probe, flexing, state, panels } = candidate;
  const working = own.chart.circuits.find((circuit) => circuit.id === own.circuit)?.working ?? '';
  const toOpen = panels.filter((panel) => !openPanels.includes(panel));
  const steps = [
    ...(toOpen.length > 0 ? [`take off: ${toOpen.join(', ')}`] : []),
    state === 'as found' ? `nothing unplugged, ${working === '' ? 'everything on' : working}` : state === 'dead' ? 'battery off, loads unplugged' : 'battery off, loads unplugged, fuses and relays out',
    ...(probe.arrangement.unplugged.length > 0 ? [`pull ${probe.arrangement.unplugged.join(', ')} apart`] : []),
    `meter on ${probe.quantity === 'voltage' ? 'DC volts' : 'ohms'}, red on ${pointWords(own.chart, probe.red)}, black on ${pointWords(own.chart, probe.black)}`,
    ...(flexing === undefined ? [] : [`flex ${flexing.parts === undefined ? 'the whole harness' : flexing.parts.join(', ')} ${flexing.flexes} times and watch`]),
  ];
  const sentence = steps.join('; ');
  return `${sentence.charAt(0).toUpperCase()}${sentence.slice(1)}.`;
}

/** A point, or one half of it: "C2/4 (the half towards S3)". */
function pointWords(chart: Chart, node: string): string {
  const match = /^(.*):(in|out)$/.exec(node);
  if (match === null) return node;
  const [, point = '', side] = match;
  const span = chart.spans.find((own) => (side === 'in' ? own.to : own.from) === point);
  return span === undefined ? point : `${point} (the half towards ${side === 'in' ? span.from : span.to})`;
}
