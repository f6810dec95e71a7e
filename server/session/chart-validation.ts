/** Turns data from outside into a chart, or says what is wrong with it and where. */
import { z } from 'zod';
import type { Chart } from './chart.ts';
import { EXPOSURES, POINT_KINDS, colourWords, partIds } from './chart.ts';
import { SYSTEM_VOLTAGES } from './limits.ts';

/** One thing that is wrong with a chart, e.g. path "spans[2].length", expected "a number of at least 0", got "-1". */
export interface ChartProblem { readonly path: string; readonly expected: string; readonly got: string }
export type ReadChart = { readonly kind: 'chart'; readonly chart: Chart } | { readonly kind: 'problems'; readonly problems: readonly ChartProblem[] };

const id = z.string().trim().min(1).max(80);
const text = z.string().max(400);
const ohms = z.number().min(0).max(1e9);
const ends = { id, from: id, to: id };
const named = { ...ends, name: text };

const chartShape = z.object({
  name: text,
  systemVoltage: z.literal(SYSTEM_VOLTAGES),
  points: z.array(z.object({
    id, kind: z.enum(POINT_KINDS), connector: id.optional(), jointOhms: ohms, accessMinutes: z.number().min(0).max(1e4), panel: id.optional(), restraint: z.boolean().optional(),
  })).max(5000),
  panels: z.array(z.object({ id, minutes: z.number().min(0).max(1e4) })).max(500),
  spans: z.array(z.object({
    ...ends, length: z.number().min(0).max(1e4), crossSection: z.number().gt(0).max(1000), colour: z.string().max(40), route: text, exposures: z.array(z.enum(EXPOSURES)),
  })).max(5000),
  components: z.array(z.discriminatedUnion('kind', [
    z.object({ ...named, kind: z.literal('battery'), volts: z.number().gt(0).max(60), ohms }),
    z.object({ ...named, kind: z.literal('fuse'), amps: z.number().gt(0).max(1000), ohms }),
    z.object({ ...named, kind: z.literal('contact'), ohms }),
    z.object({ ...named, kind: z.literal('load'), ohms: ohms.gt(0), coldOhms: ohms.gt(0).optional(), electronic: z.boolean().optional() }),
  ])).max(5000),
  circuits: z.array(z.object({ id, name: text, parts: z.array(id), working: text })).max(500),
  chassis: id.optional(),
});

/** Reads a chart from data that came from outside. Never throws for bad data. */
export function readChart(input: unknown): ReadChart {
  const shaped = chartShape.safeParse(input);
  if (!shaped.success) {
    return { kind: 'problems', problems: shaped.error.issues.flatMap((issue) => problemsOf(issue, input)) };
  }
  const problems = relationProblems(shaped.data);
  return problems.length > 0 ? { kind: 'problems', problems } : { kind: 'chart', chart: shaped.data };
}

/** What the parts of a chart must have to do with each other. Empty when all is well. */
export function relationProblems(chart: Chart): ChartProblem[] {
  const problems: ChartProblem[] = [];
  const say = (path: string, expected: string, got: unknown): void => void problems.push({ path, expected, got: show(got) });

  const unique = (path: string, ids: readonly string[]): void => {
    ids.forEach((own, order) => {
      if (ids.indexOf(own) !== order) say(`${path}[${order}].id`, 'an id used once', own);
    });
  };
  unique('points', chart.points.map((point) => point.id));
  unique('panels', chart.panels.map((panel) => panel.id));
  unique('circuits', chart.circuits.map((circuit) => circuit.id));
  const parts = partIds(chart);
  parts.forEach((own, order) => {
    const path = order < chart.spans.length ? `spans[${order}].id` : `components[${order - chart.spans.length}].id`;
    if (parts.indexOf(own) !== order) say(path, 'an id used once among spans and components', own);
  });

  const points = new Set(chart.points.map((point) => point.id));
  const panels = new Set(chart.panels.map((panel) => panel.id));
  chart.points.forEach((point, order) => {
    if (point.panel !== undefined && !panels.has(point.panel)) say(`points[${order}].panel`, 'the id of a panel', point.panel);
    if (point.kind === 'pin' && point.connector === undefined) say(`points[${order}].connector`, 'the connector that the pin belongs to', undefined);
  });
  for (const list of ['spans', 'components'] as const) {
    chart[list].forEach((part, order) => {
      for (const end of ['from', 'to'] as const) {
        if (!points.has(part[end])) say(`${list}[${order}].${end}`, 'the id of a point', part[end]);
      }
      if (part.from === part.to) say(`${list}[${order}].to`, 'another point than its beginning', part.to);
    });
  }
  chart.spans.forEach((span, order) => {
    if (colourWords(span.colour) === null) say(`spans[${order}].colour`, 'letter codes of IEC 60757, such as RD or RDYE', span.colour);
  });
  const known = new Set(parts);
  chart.circuits.forEach((circuit, order) => {
    circuit.parts.forEach((part, place) => {
      if (!known.has(part)) say(`circuits[${order}].parts[${place}]`, 'the id of a span or component', part);
    });
  });
  const batteries = chart.components.filter((component) => component.kind === 'battery');
  if (batteries.length !== 1) say('components', 'one battery', `${batteries.length} batteries`);
  if (chart.chassis !== undefined && !points.has(chart.chassis)) say('chassis', 'the id of a point', chart.chassis);
  return problems;
}

/** One line for a person: what is wrong, where. */
export function problemText(problem: ChartProblem): string {
  return `${problem.path === '' ? 'chart' : problem.path}: expected ${problem.expected}, got ${problem.got}`;
}

/** An issue of the shape as problems, with what came: one a name where names are not known, else one. */
export function problemsOf(issue: { readonly path: readonly PropertyKey[]; readonly message: string; readonly keys?: readonly PropertyKey[] }, input: unknown): ChartProblem[] {
  if (issue.keys !== undefined) return issue.keys.map((key) => [...issue.path, key]).map((path) => ({ path: pathText(path), expected: 'nothing by this name', got: show(valueAt(input, path)) }));
  // "Too small: expected number to be >=0, received -1": the middle of it, since what came is said by itself.
  const expected = issue.message.replace(/^[A-Z][\w ]*: expected /, '').replace(/, received .*$/, '').replace(/^nonoptional$/, 'a value');
  return [{ path: pathText(issue.path), expected, got: show(valueAt(input, issue.path)) }];
}

function pathText(path: readonly PropertyKey[]): string {
  return path.map((step) => (typeof step === 'number' ? `[${step}]` : `.${String(step)}`)).join('').replace(/^\./, '');
}

function valueAt(input: unknown, path: readonly PropertyKey[]): unknown {
  let value = input;
  for (const step of path) value = typeof value === 'object' && value !== null ? (value as Record<PropertyKey, unknown>)[step] : undefined;
  return value;
}

/** A value in one short line. */
export function show(value: unknown): string {
  if (value === undefined) return 'nothing';
  const shown = JSON.stringify(value) ?? String(value);
  return shown.length > 60 ? `${shown.slice(0, 57)}...` : shown;
}
