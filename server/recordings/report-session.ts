/** The report of a session file, as one HTML page: everything in it comes from the file. */
import { Flag } from '../../drivers/reading.ts';
import type { Acknowledged } from '../session/papers.ts';
import { caseReadings } from '../session/case-readings.ts';
import type { Chart } from '../session/chart.ts';
import { readChart } from '../session/chart-validation.ts';
import { checksFor } from '../session/checks.ts';
import { locateCase, readCase } from '../session/locate-case.ts';
import type { Located } from '../session/locate-case.ts';
import { proofsOf } from '../session/proof.ts';
import { allPhotos, NO_REPAIR, photoDocument } from '../session/repair.ts';
import type { PhotoContent, RepairFile } from '../session/repair.ts';
import { reportPage } from '../session/report-page.ts';
import { reportOf } from '../session/report.ts';
import type { ReportTrace } from '../session/report.ts';
import type { MeterRecord, TakeSummary } from '../session/session.ts';
import { judgeStored } from './judge-stored.ts';
import type { SessionReader } from './session-reader.ts';

/** Columns of a trace on paper: about three to a millimetre. */
const TRACE_COLUMNS = 380;

export interface ReportOptions {
  readonly version: string;
  /** Wall time, ms. */
  readonly now: number;
}

/** @returns a whole HTML document @throws {RecordingError} when the file can't be read */
export function sessionReport(reader: SessionReader, { version, now }: ReportOptions): string {
  const isBeingWritten = reader.isBeingWritten(now);
  const stored = reader.takes();
  const meters = reader.meters();
  const takes = stored.flatMap((own): TakeSummary[] => {
    const { take } = own;
    if (own.judgement === null && isBeingWritten) return [];
    const judgement = own.judgement ?? judgeStored(reader, own);
    return [{ ...take, end: take.end ?? take.start + judgement.elapsed, samples: judgement.samples, verdict: judgement.verdict, judgement }];
  });
  const documents = reader.documents();
  const repair = (documents['repair'] as RepairFile | undefined) ?? NO_REPAIR;
  const chart = chartOf(documents['chart']);
  const firstRepair = repair.repairs[0]?.at ?? Infinity;
  const page = reportOf({
    info: reader.info(), takes, chart, repair,
    meters: takes.flatMap((take) => stored.find((own) => own.take.id === take.id)?.meter ?? meters.find(({ index }) => index === take.meter) ?? []),
    traces: takes.map((take) => traceOf(reader, take)),
    located: chart === null ? null : locatedFrom(chart, takes.filter(({ start }) => start < firstRepair), meters),
    proofs: proofsOf(takes, repair.repairs),
    photos: allPhotos(repair).flatMap(({ id }) => {
      const content = documents[photoDocument(id)] as PhotoContent | undefined;
      return content === undefined ? [] : [{ id, base64: content.base64 }];
    }),
    reseats: (documents['reseats'] as { at: number; connector: string }[] | undefined) ?? [],
    cautions: ((documents['cautions'] as Acknowledged[] | undefined) ?? []).map(({ text }) => text),
    hash: lastHash(reader), isGoingOn: isBeingWritten || stored.length > takes.length, version, printedAt: `${new Date(now).toISOString().replace('T', ' ').slice(0, 16)} UTC`,
  });
  return reportPage(page);
}

function traceOf(reader: SessionReader, { id, meter }: TakeSummary): ReportTrace {
  const { time, value, flags } = reader.trace(id, meter, -Infinity, Infinity, TRACE_COLUMNS);
  return { take: id, time, value, isOverRange: Array.from(flags, (own) => (own & Flag.overRange) !== 0) };
}

function lastHash(reader: SessionReader): string | null {
  const last = reader.seals().at(-1);
  return last === undefined ? null : Buffer.from(last.chainHash).toString('hex');
}

function chartOf(document: unknown): Chart | null {
  const read = document === undefined || document === null ? null : readChart(document);
  return read?.kind === 'chart' ? read.chart : null;
}

/** Where the fault lies by these takes; of the circuit that most of them belong to. Null when none of them tells. */
function locatedFrom(chart: Chart, takes: readonly TakeSummary[], meters: readonly MeterRecord[]): Located | null {
  const circuits = chart.circuits.map(({ id }) => {
    const checks = new Set(checksFor(chart, id).map((check) => check.id));
    return { id, checks, takes: takes.filter(({ check }) => checks.has(check.id)).length };
  });
  const circuit = circuits.reduce<(typeof circuits)[number] | null>((most, own) => (most === null || own.takes > most.takes ? own : most), null);
  if (circuit === null) return null;
  const readings = caseReadings(takes, meters, chart, (id) => circuit.checks.has(id));
  const read = readings.length === 0 ? null : readCase({ chart, circuit: circuit.id, readings });
  return read?.kind === 'case' ? locateCase(read.case, 0) : null;
}
