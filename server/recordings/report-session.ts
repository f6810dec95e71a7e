/** The report of a session file, as one HTML page: everything in it comes from the file. */
import { Flag } from '../../drivers/reading.ts';
import type { Acknowledged, Reseat } from '../session/papers.ts';
import { proofsOf } from '../session/proof.ts';
import { allPhotos, photoDocument } from '../session/repair.ts';
import type { PhotoContent } from '../session/repair.ts';
import { reportPage } from '../session/report-page.ts';
import { reportOf } from '../session/report.ts';
import type { ReportTrace } from '../session/report.ts';
import type { TakeSummary } from '../session/session.ts';
import type { SessionReader } from './session-reader.ts';
import { locatedIn, storedCase } from './stored-case.ts';

/** Columns of a trace on paper: about three to a millimetre. */
const TRACE_COLUMNS = 380;

export interface ReportOptions {
  readonly version: string;
  /** Wall time, ms. */
  readonly now: number;
}

/** @returns a whole HTML document @throws {RecordingError} when the file can't be read */
export function sessionReport(reader: SessionReader, { version, now }: ReportOptions): string {
  const own = storedCase(reader, now);
  const { takes, chart, repair, documents } = own;
  return reportPage(reportOf({
    info: reader.info(), takes, chart, repair, meters: own.usedMeters,
    traces: takes.map((take) => traceOf(reader, take)),
    located: locatedIn(own),
    proofs: proofsOf(takes, repair.repairs, repair.aside),
    photos: allPhotos(repair).flatMap(({ id }) => {
      const content = documents[photoDocument(id)] as PhotoContent | undefined;
      return content === undefined ? [] : [{ id, base64: content.base64 }];
    }),
    reseats: (documents['reseats'] as readonly Reseat[] | undefined) ?? [],
    cautions: ((documents['cautions'] as readonly Acknowledged[] | undefined) ?? []).map(({ text }) => text),
    losses: reader.losses(), hash: lastHash(reader), areRecordsSealed: reader.version > 1, isGoingOn: own.isTakeRunning || reader.isBeingWritten(now), version, printedAt: `${new Date(now).toISOString().replace('T', ' ').slice(0, 16)} UTC`,
  }));
}

function traceOf(reader: SessionReader, { id, meter }: TakeSummary): ReportTrace {
  const { time, value, flags } = reader.trace(id, meter, -Infinity, Infinity, TRACE_COLUMNS);
  return { take: id, time, value, isOverRange: Array.from(flags, (one) => (one & Flag.overRange) !== 0) };
}

function lastHash(reader: SessionReader): string | null {
  const last = reader.seals().at(-1);
  return last === undefined ? null : Buffer.from(last.chainHash).toString('hex');
}
