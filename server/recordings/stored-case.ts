/** What a session file tells of the case as a whole: takes, meters, chart, repairs, and where the fault lies by the takes before the first repair. */
import type { Chart } from '../session/chart.ts';
import { batteryOf } from '../session/chart.ts';
import { readChart } from '../session/chart-validation.ts';
import type { FaultSearch } from '../session/fault-search.ts';
import { NO_SEARCH, searchFault } from '../session/fault-search.ts';
import type { Located } from '../session/located.ts';
import { CONDUCTORS_USUAL } from '../session/offered-checks.ts';
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
  /** Of the conductors, degC. */
  readonly temperature: number;
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
    chart: chartOf(documents['chart']), repair: (documents['repair'] as RepairFile | undefined) ?? NO_REPAIR, temperature: reader.info().ambient ?? CONDUCTORS_USUAL, documents, isTakeRunning: stored.length > ended.length,
  };
}

/** Where the fault lies by the takes before the first repair, as the dashboard had it then. Null when none of them tells. */
export function locatedIn({ chart, takes, meters, repair, temperature, documents }: StoredCase): Located | null {
  const firstRepair = repair.repairs[0]?.at ?? Infinity;
  const before = takes.filter(({ start }) => start < firstRepair);
  if (chart === null || chart.circuits.length === 0 || batteryOf(chart) === undefined || before.length === 0) return null;
  const said = (documents['search'] as FaultSearch | undefined) ?? NO_SEARCH;
  const search = { ...said, loads: said.loads.filter(({ at }) => at < firstRepair) };
  const { readings, located } = searchFault({ search, chart, takes: before, meters, temperature, repairedAt: null });
  return readings.length === 0 ? null : located;
}

/** The same for a screen; null when the readings tell nothing. */
export function foundByReadings(reader: SessionReader, now: number): FoundByReadings | null {
  const located = locatedIn(storedCase(reader, now));
  const best = located?.faults[0];
  return located === null || best === undefined || best.kind === 'none' ? null : { isFound: located.isFound, at: best.at, words: located.double?.words ?? best.words, brief: best.brief, chance: best.chance };
}

function chartOf(document: unknown): Chart | null {
  const read = document === undefined || document === null ? null : readChart(document);
  return read?.kind === 'chart' ? read.chart : null;
}
