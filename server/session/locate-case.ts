/** One case to locate: a chart, the complaint, the readings so far; read from outside, and turned into what the locator observes. located.ts makes of it what is to be shown. */
import { z } from 'zod';
import type { Arrangement } from '../diagnosis/circuit/index.ts';
import { wholePoint } from '../diagnosis/circuit/index.ts';
import type { Flexing, Observation, Probe, Symptom } from '../diagnosis/locate/index.ts';
import { CHECK_KINDS } from '../diagnosis/judgement.ts';
import type { CircuitState } from './candidates.ts';
import { CIRCUIT_STATES, benchFor } from './candidates.ts';
import type { DistanceReadings } from './case-distance.ts';
import { distanceProblems, distanceShape } from './case-distance.ts';
import type { Chart } from './chart.ts';
import type { ChartProblem } from './chart-validation.ts';
import { problemsOf, readChart, show } from './chart-validation.ts';
import { usualArrangement } from './check-function.ts';
import { checksFor } from './checks.ts';
import type { MeterClass } from './meter-uncertainty.ts';
import { HAND_HELD, standardUncertainty } from './meter-uncertainty.ts';
import type { Check } from './session.ts';

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
  /** How often it was read alike before: a lead does not slip twice in the same way. */
  readonly repeats?: number;
  /** Number of the take that it comes from. */
  readonly take?: number;
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
  /** State of the circuit now. */
  readonly state: CircuitState;
  /** What was read to find the place along the wire. */
  readonly distance?: DistanceReadings;
}

export type ReadCase = { readonly kind: 'case'; readonly case: LocateCase } | { readonly kind: 'problems'; readonly problems: readonly ChartProblem[] };

const accuracy = z.object({ fraction: z.number().min(0).max(1), counts: z.number().min(0).max(1000) });
/** Strict: what is misspelt would be left out without a word, and the fault be sought without it. */
const caseShape = z.strictObject({
  chart: z.unknown(),
  circuit: z.string().optional(),
  temperature: z.number().min(-60).max(200).default(20),
  meter: z.object({ displayCounts: z.number().gt(10), volts: accuracy, ohms: accuracy, leastOhms: z.number().gt(0), leastVolts: z.number().gt(0) }).default(HAND_HELD),
  symptoms: z.array(z.object({ load: z.string(), works: z.boolean() })).default([]),
  readings: z.array(z.strictObject({
    check: z.string().optional(), kind: z.enum(CHECK_KINDS).optional(), red: z.string().optional(), black: z.string().optional(), value: z.number().nullable(),
    quantity: z.enum(['voltage', 'resistance']).optional(), removed: z.array(z.string()).optional(), unplugged: z.array(z.string()).optional(), lamp: z.boolean().optional(),
    uncertainty: z.number().gt(0).optional(), repeats: z.number().int().min(0).max(1000).optional(), take: z.number().int().min(0).optional(),
    flexing: z.strictObject({ flexes: z.number().int().min(1).max(1e6), dropouts: z.number().int().min(0), parts: z.array(z.string()).optional() }).optional(),
  })).max(500).default([]),
  openPanels: z.array(z.string()).default([]),
  state: z.enum(CIRCUIT_STATES).default('as found'),
  distance: distanceShape.optional(),
});

/** Reads a case from data that came from outside. Never throws for bad data. */
export function readCase(input: unknown): ReadCase {
  const shaped = caseShape.safeParse(input);
  if (!shaped.success) return { kind: 'problems', problems: shaped.error.issues.flatMap((issue) => problemsOf(issue, input)) };
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
      const point = reading[end] === undefined ? undefined : wholePoint(reading[end]);
      if (point !== undefined && !chart.points.some((candidate) => candidate.id === point)) say(`${path}.${end}`, 'the id of a point', point);
    }
    for (const part of [...(reading.removed ?? []), ...(reading.flexing?.parts ?? [])]) if (!parts.has(part)) say(path, 'ids of spans and components', part);
  });
  if (own.distance !== undefined) problems.push(...distanceProblems(chart, own.distance));
  return problems;
}

/** What a reading is called in a sentence. */
export function readingName(reading: CaseReading): string {
  return reading.check ?? `${reading.kind ?? ''} ${reading.red ?? ''} to ${reading.black ?? ''}`;
}

/** Everything that can be measured on the circuit, by the id of its check. */
export function probesById(own: LocateCase): Map<string, Probe> {
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

export function observationOf(own: LocateCase, reading: CaseReading, known: ReadonlyMap<string, Probe>): Observation {
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
    probe, value, uncertainty: reading.uncertainty ?? standardUncertainty(own.meter, probe.quantity, value),
    ...(reading.flexing === undefined ? {} : { flexing: reading.flexing }), ...(reading.repeats === undefined ? {} : { repeats: reading.repeats }),
  };
}
