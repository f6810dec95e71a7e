/** What a session file tells of the case as a whole: takes, meters, chart, repairs, and where the fault lies by the takes before the first repair. */
import { caseReadings } from '../session/case-readings.ts';
import type { Chart } from '../session/chart.ts';
import { readChart } from '../session/chart-validation.ts';
import { checksFor } from '../session/checks.ts';
import { locateCase, readCase } from '../session/locate-case.ts';
import type { Located } from '../session/locate-case.ts';
import { NO_REPAIR } from '../session/repair.ts';
import type { RepairFile } from '../session/repair.ts';
import type { MeterRecord, TakeSummary } from '../session/session.ts';
import { judgeStored } from './judge-stored.ts';
import type { FoundByReadings } from './offers.ts';
import type { SessionReader } from './session-reader.ts';

export interface StoredCase {
  /** Ended takes; those that were cut off are judged as far as they go. */
  readonly takes: readonly TakeSummary[];
  readonly meters: readonly MeterRecord[];
  /** Of each take, as it was when the take was judged by it. */
  readonly usedMeters: readonly MeterRecord[];
  readonly chart: Chart | null;
  readonly repair: RepairFile;
  readonly documents: Readonly<Record<string, unknown>>;
  /** A take runs. */
  readonly isTakeRunning: boolean;
}

/** @param now  wall time, ms @throws {RecordingError} */
export function storedCase(reader: SessionReader, now: number): StoredCase {
  const isBeingWritten = reader.isBeingWritten(now);
  const stored = reader.takes();
  const meters = reader.meters();
  const ended = stored.filter(({ judgement }) => judgement !== null || !isBeingWritten);
  const documents = reader.documents();
  return {
    takes: ended.map((own): TakeSummary => {
      const judgement = own.judgement ?? judgeStored(reader, own);
      return { ...own.take, end: own.take.end ?? own.take.start + judgement.elapsed, samples: judgement.samples, verdict: judgement.verdict, judgement };
    }),
    meters, usedMeters: ended.flatMap(({ take, meter }) => meter ?? meters.find(({ index }) => index === take.meter) ?? []),
    chart: chartOf(documents['chart']), repair: (documents['repair'] as RepairFile | undefined) ?? NO_REPAIR, documents, isTakeRunning: stored.length > ended.length,
  };
}

/** Where the fault lies by the takes before the first repair; of the circuit that most of them belong to. Null when none of them tells. */
export function locatedIn({ chart, takes, meters, repair }: StoredCase): Located | null {
  if (chart === null) return null;
  const firstRepair = repair.repairs[0]?.at ?? Infinity;
  const before = takes.filter(({ start }) => start < firstRepair);
  const circuits = chart.circuits.map(({ id }) => {
    const checks = new Set(checksFor(chart, id).map((check) => check.id));
    return { id, checks, takes: before.filter(({ check }) => checks.has(check.id)).length };
  });
  const circuit = circuits.reduce<(typeof circuits)[number] | null>((most, own) => (most === null || own.takes > most.takes ? own : most), null);
  if (circuit === null) return null;
  const readings = caseReadings(before, meters, chart, (id) => circuit.checks.has(id));
  const read = readings.length === 0 ? null : readCase({ chart, circuit: circuit.id, readings });
  return read?.kind === 'case' ? locateCase(read.case, 0) : null;
}

/** The same for a screen; null when the readings tell nothing. */
export function foundByReadings(reader: SessionReader, now: number): FoundByReadings | null {
  const located = locatedIn(storedCase(reader, now));
  const best = located?.faults[0];
  return located === null || best === undefined || best.kind === 'none' ? null : { isFound: located.isFound, at: best.at, words: best.words, brief: best.brief, chance: best.chance };
}

function chartOf(document: unknown): Chart | null {
  const read = document === undefined || document === null ? null : readChart(document);
  return read?.kind === 'chart' ? read.chart : null;
}
