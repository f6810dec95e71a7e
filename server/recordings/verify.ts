/** Proves that a session file is as it was sealed, or says what is not and where. */
import type { Judgement } from '../diagnosis/judgement.ts';
import type { MarkRecord } from '../session/session.ts';
import { chainHash, chainStart, samplesHash, sortedJson, takeHash } from './chain.ts';
import { BLOCK_SAMPLES } from './columns/block.ts';
import { eventRows } from './event-rows.ts';
import { OverviewBuilder } from './overview-builder.ts';
import { bucketsOf, readBuckets, writeBuckets } from './overview.ts';
import type { TakeSeal } from './seal-chain.ts';
import type { SessionReader, StoredTake } from './session-reader.ts';
import { checkRecords, isRecordSeal, recordPlace } from './verify-records.ts';
import { checkRepairs } from './verify-repairs.ts';
import type { StoredSamples } from './stored-samples.ts';
import type { Finding, Following, Verification } from './offers.ts';

export interface VerifyOptions extends Following {
  /** Hash printed on a report, hexadecimal. */
  readonly reportedHash?: string | undefined;
}

/** @throws {RecordingError} when the file can't be read at all; AbortError when it was stopped */
export function verifySession(reader: SessionReader, { reportedHash, signal, onProgress }: VerifyOptions = {}): Verification {
  const findings: Finding[] = [];
  const found = (where: string, what: string) => findings.push({ where, what });
  for (const problem of reader.integrityProblems()) found('file', problem);
  /** What a table holds; null, and a finding, when it can't be read. */
  const read = <Rows>(table: string, rows: () => Rows): Rows | null => {
    try {
      return rows();
    } catch (error) {
      found(`table ${table}`, (error as Error).message);
      return null;
    }
  };

  const info = reader.info();
  const takes = read('takes', () => reader.takes());
  const marks = read('marks', () => reader.marks());
  const seals = reader.seals();
  const streams = new Map<string, Stream>();
  const sealedTakes = new Set<number>();
  let chain = chainStart(info);
  let sealedSamples = 0;
  let reportedAt = -1;
  for (const [i, seal] of seals.entries()) {
    signal?.throwIfAborted();
    if (seal.position !== i + 1) found(`seal ${seal.position}`, `seal ${i + 1} is missing`);
    if (!isRecordSeal(seal)) {
      const content = seal.kind === 'samples' ? checkSamples(reader, seal, streams, found) : checkTake(seal, takes, marks, found);
      if (seal.kind === 'take') sealedTakes.add(seal.take);
      if (content !== null && !equal(content, seal.contentHash)) found(placeOf(seal), 'differs from what was sealed');
    }
    chain = chainHash(chain, seal.contentHash);
    if (!equal(chain, seal.chainHash)) {
      found(`seal ${seal.position}`, 'the chain is broken here: a seal at or before it was changed, added or taken out');
      chain = seal.chainHash;
    }
    if (reportedHash !== undefined && hex(seal.chainHash) === reportedHash.toLowerCase()) reportedAt = i;
    onProgress?.((i + 1) / seals.length);
  }

  for (const take of new Set(read('takes and marks', () => reader.oddlyWritten()))) found(`take ${take}`, 'is not written as it was: the same may be read in two ways');

  let unsealedSamples = 0;
  for (const { take, judgement } of takes ?? []) {
    if (judgement !== null && !sealedTakes.has(take.id)) found(`take ${take.id}`, 'has ended but is not sealed');
    if (judgement !== null && !hasEventsOf(reader, take.id, judgement)) found(`take ${take.id}`, 'its list of events is not that of its judgement');
    for (const meter of reader.metersOf(take.id)) {
      const stream = streams.get(`${take.id} ${meter}`);
      checkOverview(reader, take.id, meter, stream, found);
      const { blocks, tail } = reader.counts(take.id, meter);
      if (blocks !== (stream?.samples ?? 0)) found(`take ${take.id}, meter ${meter}`, `${blocks} samples are stored in blocks, ${stream?.samples ?? 0} are sealed`);
      sealedSamples += stream?.samples ?? 0;
      unsealedSamples += tail;
      if (tail > 0 && sealedTakes.has(take.id)) found(`take ${take.id}, meter ${meter}`, `${tail} samples were added after the take was sealed`);
    }
  }
  findings.push(...(read('documents', () => (takes === null ? [] : checkRepairs(reader))) ?? []));
  const records = read('documents, meters and losses', () => checkRecords(reader)) ?? { findings: [], unsealed: [] };
  findings.push(...records.findings);
  const last = seals.at(-1);
  return {
    state: findings.length === 0 ? 'unchanged' : 'changed',
    findings, seals: seals.length, sealedSamples, unsealedSamples,
    hash: last === undefined ? null : hex(last.chainHash),
    unsealedRecords: records.unsealed,
    writtenSince: reportedAt < 0 ? [] : [...new Set(seals.slice(reportedAt + 1).filter(isRecordSeal).map(recordPlace))],
    reported: reportedHash === undefined ? null : reportedAt < 0 ? 'unknown' : reportedAt === seals.length - 1 ? 'last' : 'earlier',
  };
}

/** What the blocks of one take and meter gave so far. */
interface Stream {
  samples: number;
  lastUs: number | null;
  readonly overview: OverviewBuilder;
  /** The overview as these samples give it, by level and chunk. */
  readonly chunks: Map<string, Uint8Array>;
}

type Found = (where: string, what: string) => void;

function checkSamples(reader: SessionReader, seal: TakeSeal, streams: Map<string, Stream>, found: Found): Uint8Array | null {
  const meter = seal.meter ?? 0;
  const firstSample = seal.firstSample ?? 0;
  const key = `${seal.take} ${meter}`;
  const stream = streams.get(key) ?? { samples: 0, lastUs: null, overview: new OverviewBuilder(), chunks: new Map<string, Uint8Array>() };
  streams.set(key, stream);
  if (firstSample !== stream.samples) found(placeOf(seal), `does not follow sample ${stream.samples - 1} of its take and meter`);
  let samples: StoredSamples | null;
  try {
    samples = reader.block(seal.take, meter, firstSample);
  } catch (error) {
    found(placeOf(seal), `can not be read (${(error as Error).message})`);
    samples = null;
  }
  if (samples === null) {
    found(placeOf(seal), 'is missing');
    stream.samples = firstSample + BLOCK_SAMPLES;
    return null;
  }
  const chunks = stream.overview.next(bucketsOf(samples, stream.lastUs));
  stream.overview.keep(chunks);
  for (const { level, chunk, buckets } of chunks) stream.chunks.set(`${level} ${chunk}`, writeBuckets(buckets, level));
  stream.samples = firstSample + samples.length;
  stream.lastUs = samples.timeUs[samples.length - 1] ?? stream.lastUs;
  return samplesHash({ take: seal.take, meter, firstSample }, samples);
}

function checkTake(seal: TakeSeal, takes: readonly StoredTake[] | null, marks: readonly MarkRecord[] | null, found: Found): Uint8Array | null {
  if (takes === null || marks === null) return null;
  const stored = takes.find(({ take }) => take.id === seal.take);
  if (stored === undefined) {
    found(placeOf(seal), 'is missing');
    return null;
  }
  return takeHash({ ...stored, marks: marks.filter(({ take }) => take === seal.take).sort((a, b) => a.id - b.id) });
}

function hasEventsOf(reader: SessionReader, take: number, judgement: Judgement): boolean {
  try {
    return sortedJson(eventRows(judgement)) === sortedJson(reader.events(take));
  } catch {
    // A judgement or an event that is none any more.
    return false;
  }
}

/** The overview decides what a plot shows, so it must be the one that the samples give. */
function checkOverview(reader: SessionReader, take: number, meter: number, stream: Stream | undefined, found: Found): void {
  const where = `take ${take}, meter ${meter}`;
  const stored = reader.overviewChunks(take, meter);
  const expected = stream?.chunks ?? new Map<string, Uint8Array>();
  const isSame = stored.length === expected.size && stored.every(({ level, chunk, columns }) => {
    const own = expected.get(`${level} ${chunk}`);
    return own !== undefined && (equal(own, columns) || isSameOverview(own, columns));
  });
  if (!isSame) found(where, 'its overview is not the one that its samples give');
}

function isSameOverview(a: Uint8Array, b: Uint8Array): boolean {
  try {
    return JSON.stringify(readBuckets(a)) === JSON.stringify(readBuckets(b));
  } catch {
    return false;
  }
}

function placeOf({ kind, take, meter, firstSample }: TakeSeal): string {
  return kind === 'take' ? `take ${take}` : `take ${take}, meter ${meter}, from sample ${firstSample}`;
}

function equal(a: Uint8Array, b: Uint8Array): boolean {
  return Buffer.compare(a, b) === 0;
}

function hex(bytes: Uint8Array): string {
  return Buffer.from(bytes).toString('hex');
}
