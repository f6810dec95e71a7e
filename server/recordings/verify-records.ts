/** Description, meters, documents and losses against their seals: each is to be what the last revision of its name was sealed as. */
import { type RecordIdentity, RECORD_KINDS, recordHash } from './chain.ts';
import type { Finding } from './offers.ts';
import type { Seal, SessionReader } from './session-reader.ts';

export type RecordSeal = Extract<Seal, RecordIdentity>;

export function isRecordSeal(seal: Seal): seal is RecordSeal {
  return (RECORD_KINDS as readonly string[]).includes(seal.kind);
}

/** @returns name for people */
export function recordPlace({ kind, name }: Pick<RecordIdentity, 'kind' | 'name'>): string {
  return kind === 'session' ? 'title, vehicle and complaint' : `${kind} ${name}`;
}

export interface CheckedRecords {
  readonly findings: readonly Finding[];
  /** Stored by a version that did not seal them, and not written since. */
  readonly unsealed: readonly string[];
}

/** @throws {RecordingError} when the file can't be read */
export function checkRecords(reader: SessionReader): CheckedRecords {
  const seals = reader.seals().filter(isRecordSeal);
  const isAllSealed = reader.version > 1 || seals.length > 0;
  const findings: Finding[] = [];
  const found = (where: string, what: string) => findings.push({ where, what });
  const last = new Map<string, RecordSeal>();
  for (const seal of seals) {
    const place = recordPlace(seal);
    const expected = (last.get(place)?.revision ?? 0) + 1;
    if (seal.revision !== expected) found(place, `revision ${seal.revision} was sealed where revision ${expected} was due`);
    last.set(place, seal);
  }
  const unsealed: string[] = [];
  const present = new Set<string>();
  for (const record of reader.records()) {
    const place = recordPlace(record);
    present.add(place);
    const seal = last.get(place);
    if (seal === undefined) {
      if (isAllSealed) found(place, 'was added without a seal');
      else unsealed.push(place);
    } else if (!isSealOf(seal, record.text)) {
      found(place, isSealOf(seal, null) ? 'was sealed as taken out, and is there' : `differs from what was sealed (revision ${seal.revision})`);
    }
  }
  for (const [place, seal] of last) if (!present.has(place) && !isSealOf(seal, null)) found(place, 'is missing');
  return { findings, unsealed };
}

function isSealOf({ kind, name, revision, contentHash }: RecordSeal, text: string | null): boolean {
  return Buffer.compare(contentHash, recordHash({ kind, name, revision }, text)) === 0;
}
