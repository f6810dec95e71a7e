/**
 * What the operator did in a take, told by its marks: when the leads were proved, which zone was flexed when, how the circuit was
 * provoked, how often it was flexed, and whether it was in the state that the check asks for. Pure. Marks are stored as they are
 * made, so that a take that was cut off tells the same as one that was ended.
 */
import type { Exposure, Gap } from '../diagnosis/judgement.ts';
import type { ZoneChange } from '../diagnosis/zones.ts';
import type { MarkRecord } from './session.ts';

/** Ways to provoke an intermittent (common practice, no source). */
export const PROVOCATIONS = ['flex', 'tug', 'tap', 'heat', 'chill', 'damp', 'load', 'crank'] as const;
export type Provocation = (typeof PROVOCATIONS)[number];

/** How long the leads are tugged, s (common practice, no source). */
export const PROOF_TIME = 10;

/** A rig proof: harness still, leads tugged. Session clock, s. */
export interface RigProof {
  readonly start: number;
  readonly end: number;
  /** It was carried through; one cut short proves nothing, but what fell out of it counts. */
  readonly isWhole: boolean;
}

export interface TakeAccount {
  readonly proofs: readonly RigProof[];
  /** The proof that is running, if any: since when. */
  readonly provingSince: number | null;
  /** Rising; a rig proof takes the hands off. */
  readonly zoneChanges: readonly ZoneChange[];
  /** From `at` on the circuit is provoked like this; rising. */
  readonly provocations: readonly { readonly at: number; readonly provocations: readonly Provocation[] }[];
  readonly flexes: number;
  /** Stretches of flexing, s; null when nobody named a zone: then all but the rig proofs counts as flexed. */
  readonly flexing: readonly Gap[] | null;
  /** State that the operator said the circuit is in; empty when nothing was said. */
  readonly condition: string;
}

/**
 * @param marks  of the take, in order
 * @param end  of the take so far, s
 */
export function accountOf(marks: readonly MarkRecord[], end: number): TakeAccount {
  const proofs: RigProof[] = [];
  const zoneChanges: ZoneChange[] = [];
  const provocations: { at: number; provocations: Provocation[] }[] = [];
  let provingSince: number | null = null;
  let flexes = 0;
  let condition = '';
  const endProof = (at: number): void => {
    if (provingSince === null) return;
    proofs.push({ start: provingSince, end: at, isWhole: at - provingSince >= PROOF_TIME - 1e-6 });
    provingSince = null;
  };
  const flexZone = (at: number, zone: string | null): void => {
    if ((zoneChanges.at(-1)?.zone ?? null) !== zone) zoneChanges.push({ at, zone });
  };
  for (const { at, kind, text, count } of marks) {
    switch (kind) {
      case 'rig-proof':
        endProof(at);
        flexZone(at, null);
        if (text === 'begin') provingSince = at;
        break;
      case 'zone':
        if (text !== '') endProof(at);
        flexZone(at, text === '' ? null : text);
        break;
      case 'provocation':
        provocations.push({ at, provocations: provocationsIn(text) });
        break;
      case 'flex':
        flexes += count ?? 1;
        break;
      case 'condition':
        condition = text;
        break;
    }
  }
  return {
    proofs, provingSince, zoneChanges, provocations, flexes, condition,
    flexing: zoneChanges.length === 0 ? null : zoneChanges.flatMap(({ at, zone }, k) =>
      zone === null ? [] : [{ start: at, end: Math.max(at, zoneChanges[k + 1]?.at ?? end) }]),
  };
}

/** Which of the ways to provoke a text names. */
export function provocationsIn(text: string): Provocation[] {
  const words = text.toLowerCase().split(/[^a-z]+/);
  return PROVOCATIONS.filter((provocation) => words.includes(provocation));
}

/** Zone that is flexed now; null for none. */
export function zoneNow({ zoneChanges }: TakeAccount): string | null {
  return zoneChanges.at(-1)?.zone ?? null;
}

/**
 * What the account says of the exposure, for the claim.
 * @param start  of the take, s
 * @param end  of the take so far, s
 * @param gaps  stretches without data, in order: not counted as flexed
 * @returns undefined when nothing was counted, named or proved: then the watched time stands for the flexing
 */
export function exposureOf(account: TakeAccount, start: number, end: number, gaps: readonly Gap[]): Exposure | undefined {
  const { flexes, flexing, proofs, provingSince } = account;
  const proving = provingSince === null ? proofs : [...proofs, { start: provingSince, end }];
  if (flexes === 0 && flexing === null && proving.length === 0) return undefined;
  const stretches = flexing ?? without({ start, end }, proving);
  const flexedTime = stretches.flatMap((stretch) => without(stretch, gaps)).reduce((sum, stretch) => sum + stretch.end - stretch.start, 0);
  return { flexes, flexedTime };
}

/** What is left of a stretch, in order. */
function without(stretch: Gap, holes: readonly Gap[]): Gap[] {
  const left: Gap[] = [];
  let from = stretch.start;
  for (const hole of holes) {
    if (hole.end <= from || hole.start >= stretch.end) continue;
    if (hole.start > from) left.push({ start: from, end: hole.start });
    from = Math.max(from, hole.end);
  }
  if (from < stretch.end) left.push({ start: from, end: stretch.end });
  return left;
}
