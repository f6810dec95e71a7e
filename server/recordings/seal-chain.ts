/**
 * Adds to the chain of seals of an open file, always within the transaction that writes what is sealed. What is last in
 * the chain is asked of the file each time, since a note may be written to it by somebody else while it is recorded.
 *
 * Samples and takes are sealed when they are whole. Records that change (description of the session, meters, documents) are sealed
 * at each writing, as the next revision of their name; one that is taken out is sealed as nothing.
 */
import type Database from 'better-sqlite3';
import type { SessionInfo } from '../session/session.ts';
import { chainHash, chainStart, lossText, type RecordKind, recordHash } from './chain.ts';
import { RecordingError } from './errors.ts';

export interface TakeSeal {
  readonly kind: 'samples' | 'take';
  readonly take: number;
  /** Null for a take. */
  readonly meter: number | null;
  readonly firstSample: number | null;
}

interface LastRevision {
  readonly revision: number;
  readonly hash: Buffer;
}

export class SealChain {
  readonly #last: Database.Statement;
  readonly #session: Database.Statement;
  readonly #lastOf: Database.Statement;
  readonly #add: Database.Statement;

  constructor(db: Database.Database) {
    this.#last = db.prepare('SELECT position, chain_hash AS chain FROM seals ORDER BY position DESC LIMIT 1');
    this.#session = db.prepare('SELECT record FROM session').pluck();
    this.#lastOf = db.prepare('SELECT revision, content_hash AS hash FROM seals WHERE kind = ? AND name = ? ORDER BY revision DESC LIMIT 1');
    this.#add = db.prepare(`INSERT INTO seals (position, kind, take, meter, first_sample, name, revision, content_hash, chain_hash)
      VALUES (@position, @kind, @take, @meter, @firstSample, @name, @revision, @content, @chain)`);
  }

  seal(place: TakeSeal, content: Uint8Array): void {
    this.#append({ ...place, name: null, revision: null }, content);
  }

  /** @param text  as it is stored now; null when it was taken out. The same as it was sealed last is not sealed again. */
  sealRecord(kind: RecordKind, name: string, text: string | null): void {
    const last = this.#revision(kind, name);
    if (isAsSealed(last, kind, name, text)) return;
    const revision = (last?.revision ?? 0) + 1;
    this.#append({ kind, take: null, meter: null, firstSample: null, name, revision }, recordHash({ kind, name, revision }, text));
  }

  /**
   * To be asked before a stored record is changed: sealed anew, what somebody else made of it would look as if it had always been so.
   * @param text  as it is stored now; null when there is none
   * @throws {RecordingError} SESSION_DAMAGED when it is not as it was sealed
   */
  refuseChanged(kind: RecordKind, name: string, text: string | null): void {
    if (isAsSealed(this.#revision(kind, name), kind, name, text)) return;
    throw new RecordingError('SESSION_DAMAGED', `What is to be changed (${kind}${name === '' ? '' : ` ${name}`}) is not as it was sealed: something else than Loomtrace wrote it. Nothing was changed; "verify" says more.`);
  }

  #revision(kind: RecordKind, name: string): LastRevision | undefined {
    return this.#lastOf.get(kind, name) as LastRevision | undefined;
  }

  #append(seal: Record<string, unknown>, content: Uint8Array): void {
    const last = this.#last.get() as { position: number; chain: Buffer } | undefined;
    const before = last?.chain ?? chainStart(JSON.parse(this.#session.get() as string) as SessionInfo);
    this.#add.run({ ...seal, position: (last?.position ?? 0) + 1, content, chain: chainHash(before, content) });
  }
}

/** @param last  undefined where it was never sealed @param text  null where there is none */
function isAsSealed(last: LastRevision | undefined, kind: RecordKind, name: string, text: string | null): boolean {
  return last === undefined ? text === null : last.hash.equals(recordHash({ kind, name, revision: last.revision }, text));
}

/** Every record as it is stored now: the text that its seal covers. */
export function storedRecords(db: Database.Database): StoredRecord[] {
  const records = (kind: RecordKind, query: string) => (db.prepare(query).all() as { name: string; text: string }[]).map((row) => ({ kind, ...row }));
  const losses = db.prepare('SELECT loss, first_seq AS firstSeq, last_seq AS lastSeq, samples, from_s AS "from", to_s AS "to", why FROM losses ORDER BY loss').all();
  return [
    ...records('session', "SELECT '' AS name, record AS text FROM session"),
    ...records('meter', 'SELECT CAST(meter AS TEXT) AS name, record AS text FROM meters ORDER BY meter'),
    ...records('document', 'SELECT name, content AS text FROM documents ORDER BY name'),
    ...(losses as ({ loss: number } & Parameters<typeof lossText>[0])[]).map(({ loss, ...row }) => ({ kind: 'loss' as const, name: String(loss), text: lossText(row) })),
  ];
}

export interface StoredRecord {
  readonly kind: RecordKind;
  readonly name: string;
  readonly text: string;
}

/** Of a file of the time when records were not sealed: from here on a change to them shows. */
export function sealStoredRecords(db: Database.Database): void {
  const chain = new SealChain(db);
  for (const { kind, name, text } of storedRecords(db)) chain.sealRecord(kind, name, text);
}
