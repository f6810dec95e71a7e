/**
 * The search for a fault in a session: what the user says of it, the takes made so far, and what follows from both. Takes from before a
 * repair say nothing of the circuit after it, so that only those since the last one count.
 */
import type { Verdict, Watching } from '../diagnosis/judgement.ts';
import type { CircuitState } from './candidates.ts';
import type { DistanceReadings } from './case-distance.ts';
import { caseReadings } from './case-readings.ts';
import type { Chart, ChartCircuit } from './chart.ts';
import { batteryOf, pointOf } from './chart.ts';
import { wayBetween } from './chart-paths.ts';
import type { CaseReading, LocateCase } from './locate-case.ts';
import { probesById, readingName } from './locate-case.ts';
import type { Located } from './located.ts';
import { locateCase } from './located.ts';
import { HAND_HELD } from './meter-uncertainty.ts';
import type { Check, MeterRecord, TakeSummary } from './session.ts';
import { wholePoint } from '../diagnosis/circuit/index.ts';

/** What the user says of the fault that is looked for; kept with the session. */
export interface FaultSearch {
  /** Id of the circuit; null: that of the newest take that failed, else the first. */
  readonly circuit: string | null;
  /** What loads do. `at`: session clock, s: what was said before a repair no longer holds. */
  readonly loads: readonly { readonly load: string; readonly works: boolean; readonly at: number }[];
  /** Ids of panels that are off. Those behind which something was read are off anyway. */
  readonly panelsOff: readonly string[];
  /** State of the circuit, as said at that time; null: as the newest take left it. */
  readonly state: { readonly state: CircuitState; readonly at: number } | null;
  /** What was read for the place along the wire. */
  readonly distance: DistanceReadings | null;
}

export const NO_SEARCH: FaultSearch = { circuit: null, loads: [], panelsOff: [], state: null, distance: null };

export interface SearchInput {
  readonly search: FaultSearch;
  readonly chart: Chart;
  /** Ended takes of the session. */
  readonly takes: readonly TakeSummary[];
  readonly meters: readonly MeterRecord[];
  /** Of the conductors, degC. */
  readonly temperature: number;
  /** Session clock, s, of the last repair; null when none is noted. */
  readonly repairedAt: number | null;
}

/** A reading that the search goes by. */
export interface SearchReading {
  readonly take: number;
  readonly name: string;
  readonly check: Check;
  readonly watching: Watching;
  readonly verdict: Verdict;
  /** The same check was made more than once. */
  readonly isRepeated: boolean;
}

export interface SearchResult {
  readonly circuit: string;
  /** Loads of the circuit, and what was said of them. */
  readonly loads: readonly { readonly id: string; readonly name: string; readonly works: boolean | null }[];
  /** Panels in front of the circuit; `isRead`: something was read behind it, so that it is off whatever is said. */
  readonly panels: readonly { readonly id: string; readonly minutes: number; readonly isOff: boolean; readonly isRead: boolean }[];
  readonly state: CircuitState;
  /** In the order that `located.contradictions` count them by. */
  readonly readings: readonly SearchReading[];
  /** Takes whose points are not on this chart, or that measured what the model does not know. */
  readonly leftOut: readonly number[];
  /** Parts that were tested: the newest take of each with the fewest parts between its leads. */
  readonly tested: readonly { readonly part: string; readonly take: number; readonly verdict: Verdict }[];
  readonly located: Located;
}

/** @throws {RangeError} for a chart without a battery or circuit */
export function searchFault(input: SearchInput): SearchResult {
  const { search, chart, meters, temperature, repairedAt } = input;
  const takes = input.takes.filter((take) => repairedAt === null || take.start >= repairedAt);
  const circuit = circuitOf(search, chart, takes);
  const bare: LocateCase = { chart, circuit: circuit.id, temperature, meter: HAND_HELD, symptoms: [], readings: [], openPanels: [], state: 'as found' };
  const known = probesById(bare);
  const usable = takes.filter((take) => isOnChart(chart, take.check));
  const readings = caseReadings(usable, meters, chart, (check) => known.has(check));
  const said = search.loads.filter(({ at }) => repairedAt === null || at >= repairedAt);
  const own: LocateCase = {
    ...bare, readings, state: stateOf(search, chart, takes),
    symptoms: said.filter(({ load }) => circuit.parts.includes(load)).map(({ load, works }) => ({ load, works })),
    openPanels: search.panelsOff.filter((panel) => chart.panels.some(({ id }) => id === panel)),
    ...(search.distance === null || !fits(chart, search.distance) ? {} : { distance: search.distance }),
  };
  const touched = new Set(readings.flatMap(({ take }) => takes.filter(({ id }) => id === take).flatMap(({ check }) => [wholePoint(check.red), wholePoint(check.black)])));
  const isRead = (panel: string): boolean => chart.points.some((point) => point.panel === panel && touched.has(point.id));
  const before = panelsBefore(chart, circuit);
  return {
    circuit: circuit.id,
    loads: chart.components.filter(({ id, kind }) => kind === 'load' && circuit.parts.includes(id)).map(({ id, name }) => ({ id, name, works: said.find(({ load }) => load === id)?.works ?? null })),
    panels: chart.panels.filter(({ id }) => before.has(id)).map(({ id, minutes }) => ({ id, minutes, isOff: own.openPanels.includes(id) || isRead(id), isRead: isRead(id) })),
    state: own.state,
    readings: readings.map((reading) => searchReading(reading, takes)),
    leftOut: takes.filter((take) => !readings.some((reading) => reading.take === take.id) && !usable.some((other) => other.id === take.id)).map(({ id }) => id),
    tested: testedParts(chart, usable),
    located: locateCase(own),
  };
}

function searchReading(reading: CaseReading, takes: readonly TakeSummary[]): SearchReading {
  const take = takes.find(({ id }) => id === reading.take) as TakeSummary;
  const { check, watching, verdict } = take;
  const isRepeated = takes.some((other) => other.id !== take.id && other.check.id === check.id && other.watching === watching);
  return { take: take.id, name: readingName(reading), check, watching, verdict, isRepeated };
}

function circuitOf({ circuit }: FaultSearch, chart: Chart, takes: readonly TakeSummary[]): ChartCircuit {
  const said = chart.circuits.find(({ id }) => id === circuit);
  if (said !== undefined) return said;
  const failed = takes.filter(({ verdict }) => verdict === 'fail' || verdict === 'intermittent').sort((left, right) => right.start - left.start)[0];
  const parts = [...chart.spans, ...chart.components].filter(({ from, to }) => failed !== undefined && (from === failed.check.red || to === failed.check.red)).map(({ id }) => id);
  const found = chart.circuits.find((own) => own.parts.some((part) => parts.includes(part))) ?? chart.circuits[0];
  if (found === undefined) throw new RangeError('the chart has no circuit');
  return found;
}

/** What was said after the newest take, else what that take asked for. */
function stateOf({ state }: FaultSearch, chart: Chart, takes: readonly TakeSummary[]): CircuitState {
  const newest = takes.reduce<TakeSummary | null>((last, take) => (last === null || take.start > last.start ? take : last), null);
  if (state !== null && (newest === null || state.at >= newest.start)) return state.state;
  const removed = chart.components.filter(({ id }) => newest?.check.arrangement?.removed.includes(id) === true);
  if (!removed.some(({ kind }) => kind === 'battery')) return 'as found';
  return removed.some(({ kind }) => kind === 'fuse') ? 'isolated' : 'dead';
}

/** Current, and sensors of their own supply, are not in the model. */
function isOnChart(chart: Chart, check: Check): boolean {
  const has = (point: string): boolean => pointOf(chart, wholePoint(point)) !== undefined;
  return check.kind !== 'current' && check.kind !== 'sensor-sweep' && has(check.red) && has(check.black) && check.red !== check.black;
}

function fits(chart: Chart, distance: DistanceReadings): boolean {
  const spans = distance.method === 'drops' ? distance.drops?.map(({ span }) => span) ?? [] : [distance.span];
  return spans.every((span) => chart.spans.some(({ id }) => id === span));
}

function panelsBefore(chart: Chart, { parts }: ChartCircuit): Set<string> {
  const points = new Set([...chart.spans, ...chart.components].filter(({ id }) => parts.includes(id)).flatMap(({ from, to }) => [from, to]));
  return new Set(chart.points.flatMap(({ id, panel }) => (panel !== undefined && points.has(id) ? [panel] : [])));
}

/** Parts between the leads of each take; against ground, the supply side before the red lead. The take that tested a part most narrowly counts. */
function testedParts(chart: Chart, takes: readonly TakeSummary[]): SearchResult['tested'] {
  const battery = batteryOf(chart);
  const best = new Map<string, { take: TakeSummary; size: number }>();
  for (const take of [...takes].sort((left, right) => left.start - right.start)) {
    const { red, black } = take.check;
    const way = wayBetween(chart, red, black) ?? (battery === undefined || black !== battery.to ? [] : wayBetween(chart, battery.from, red) ?? []);
    for (const { id } of way) {
      const own = best.get(id);
      if (own === undefined || way.length <= own.size) best.set(id, { take, size: way.length });
    }
  }
  return [...best].map(([part, { take }]) => ({ part, take: take.id, verdict: take.verdict }));
}
