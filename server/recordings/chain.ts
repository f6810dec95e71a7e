/**
 * The chain of seals. Each seal hashes what it seals, and then that hash together with the seal before: change one
 * sample and its own content hash tells where; change and re-seal everything, and the last hash differs from the one
 * that a report printed. So a change is provable to whoever kept the report, and only to them.
 */
import { createHash } from 'node:crypto';
import type { Judgement } from '../diagnosis/judgement.ts';
import type { Repair } from '../session/repair.ts';
import type { Loss, MarkRecord, MeterRecord, SessionInfo, TakeRecord } from '../session/session.ts';
import { type StoredSamples, toCanonical } from './stored-samples.ts';

/** Where the chain of a session begins: its identity and wall time, which never change. */
export function chainStart({ id, startedAtUs }: SessionInfo): Uint8Array {
  return createHash('sha256').update('session\n').update(sortedJson({ id, startedAtUs })).digest();
}

export interface SamplesIdentity {
  readonly take: number;
  readonly meter: number;
  /** Index of the block's first sample among those of its take and meter. */
  readonly firstSample: number;
}

/** SHA-256 over "samples", take, meter, first sample and count (text, space-separated, ending in a newline) and the canonical bytes. */
export function samplesHash({ take, meter, firstSample }: SamplesIdentity, samples: StoredSamples): Uint8Array {
  return createHash('sha256')
    .update(`samples ${take} ${meter} ${firstSample} ${samples.length}\n`)
    .update(toCanonical(samples))
    .digest();
}

export interface EndedTake {
  readonly take: TakeRecord;
  readonly judgement: Judgement | null;
  readonly meter: MeterRecord | null;
  readonly marks: readonly MarkRecord[];
}

/** SHA-256 over "take", a newline, and the take with its judgement, meter and marks as JSON with sorted keys and no spaces. */
export function takeHash({ take, judgement, meter, marks }: EndedTake): Uint8Array {
  return createHash('sha256').update('take\n').update(sortedJson({ take, judgement, meter, marks })).digest();
}

/** What is sealed at each writing, beside samples and takes. */
export const RECORD_KINDS = ['session', 'meter', 'document', 'loss'] as const;
export type RecordKind = (typeof RECORD_KINDS)[number];

export interface RecordIdentity {
  readonly kind: RecordKind;
  /** Empty for the session, the meter's index, the document's name, the number of the loss. */
  readonly name: string;
  /** Counts the seals of this name, from 1. */
  readonly revision: number;
}

/**
 * SHA-256 over the kind, the revision and the name as a JSON string (space-separated, ending in a newline), and the text exactly as it is stored,
 * in UTF-8; nothing after the newline when the record was taken out (a stored record is never empty).
 */
export function recordHash({ kind, name, revision }: RecordIdentity, text: string | null): Uint8Array {
  return createHash('sha256').update(`${kind} ${revision} ${JSON.stringify(name)}\n`).update(text ?? '').digest();
}

/** The text of a loss that is hashed: its columns as JSON with sorted keys and no spaces. */
export function lossText({ firstSeq, lastSeq, samples, from, to, why }: Loss): string {
  return sortedJson({ firstSeq, lastSeq, samples, from, to, why });
}

/** SHA-256 over "repair", a newline, and what was noted of it as JSON with sorted keys and no spaces, hexadecimal: kept in the takes made after it, and so sealed with them. */
export function repairHash(repair: Repair): string {
  return createHash('sha256').update('repair\n').update(sortedJson(repair)).digest('hex');
}

/** SHA-256 over the chain hash before and the content hash. */
export function chainHash(before: Uint8Array, content: Uint8Array): Uint8Array {
  return createHash('sha256').update(before).update(content).digest();
}

/** JSON with the keys of every object in code point order. */
export function sortedJson(value: unknown): string {
  return JSON.stringify(value, (_key, part: unknown) => {
    if (typeof part !== 'object' || part === null || Array.isArray(part)) return part;
    return Object.fromEntries(Object.entries(part).sort(([a], [b]) => (a < b ? -1 : a > b ? 1 : 0)));
  });
}
