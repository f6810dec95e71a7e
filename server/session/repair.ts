/**
 * What was found and what was done about it, as kept with the session (document `repair`). A repair is noted with its time: takes that
 * began before it and after it are never mixed. It can be corrected until the first take after it begins; from then on it stands, and
 * whatever more is done is another repair. Pure.
 */

import { isSameCheck, type Check } from './session.ts';

/** A picture kept with the session (document `photo-` and its id). */
export interface Photo {
  /** Beginning of its SHA-256: the same picture is kept once. */
  readonly id: string;
  readonly bytes: number;
  /** Hexadecimal, over the picture as it is kept (JPEG). */
  readonly sha256: string;
}

/** What was done about the fault. */
export interface Repair {
  /** From 1, in the order in which they were done. */
  readonly number: number;
  /** Session clock, s: takes that began later count as after it. */
  readonly at: number;
  /** In the user's words. */
  readonly text: string;
  /** Point, span or component that it was done at, or words; empty when not said. */
  readonly place: string;
  readonly photos: readonly Photo[];
}

/** A check that failed for another reason than the fault that was repaired: it is not asked for in the proof, and that is said wherever the proof is. */
export interface SetAside {
  readonly check: Pick<Check, 'kind' | 'red' | 'black'>;
  /** In the user's words. */
  readonly reason: string;
  /** Session clock, s: takes that begin later count again. */
  readonly at: number;
}

export interface RepairFile {
  /** What was found, in the user's words. */
  readonly finding: string;
  /** Taken for the next repair. */
  readonly photos: readonly Photo[];
  /** In order. */
  readonly repairs: readonly Repair[];
  /** Missing: none. */
  readonly aside?: readonly SetAside[];
}

export const NO_REPAIR: RepairFile = { finding: '', photos: [], repairs: [] };

/** Most pictures of one repair; each is a few hundred kB. */
export const MOST_PHOTOS = 8;

export function photoDocument(id: string): string {
  return `photo-${id}`;
}

/** A picture as a document keeps it. */
export interface PhotoContent {
  readonly type: 'image/jpeg';
  readonly base64: string;
}

/** The repair that a take was made after; null when it was made before all of them. @param start  of the take, session clock, s */
export function repairBefore(repairs: readonly Repair[], start: number): Repair | null {
  return repairs.findLast(({ at }) => at <= start) ?? null;
}

/** Whether takes were made in reliance on it. @param newestTake  start of the newest take, s; null when there is none */
export function isStanding({ at }: Repair, newestTake: number | null): boolean {
  return newestTake !== null && newestTake >= at;
}

/** The repair that pictures go to and that can still be corrected: the last one, unless it stands. */
export function openRepair({ repairs }: RepairFile, newestTake: number | null): Repair | null {
  const last = repairs.at(-1);
  return last === undefined || isStanding(last, newestTake) ? null : last;
}

/** Notes a repair, with the pictures that were taken for it. @param at  session clock, s */
export function noteRepair(file: RepairFile, at: number, text: string, place: string): RepairFile {
  const repair: Repair = { number: file.repairs.length + 1, at, text, place, photos: file.photos };
  return { ...file, photos: [], repairs: [...file.repairs, repair] };
}

/** The last repair in other words. */
export function correctRepair(file: RepairFile, text: string, place: string): RepairFile {
  return { ...file, repairs: file.repairs.map((repair, order) => (order === file.repairs.length - 1 ? { ...repair, text, place } : repair)) };
}

/** The last repair was not done after all; its pictures wait for the next. */
export function takeBackRepair(file: RepairFile): RepairFile {
  const last = file.repairs.at(-1);
  return last === undefined ? file : { ...file, photos: [...last.photos, ...file.photos], repairs: file.repairs.slice(0, -1) };
}

/** @param open  the repair that it goes to; null: the next one */
export function withPhotos(file: RepairFile, open: Repair | null, photos: readonly Photo[]): RepairFile {
  return open === null ? { ...file, photos } : { ...file, repairs: file.repairs.map((repair) => (repair.number === open.number ? { ...repair, photos } : repair)) };
}

/** The check is left out of the proof, in place of what was said of it before; null: it counts again. @param at  session clock, s */
export function withAside(file: RepairFile, check: SetAside['check'], reason: string | null, at: number): RepairFile {
  const { kind, red, black } = check;
  const others = (file.aside ?? []).filter((own) => !isSameCheck(own.check, check));
  return { ...file, aside: reason === null ? others : [...others, { check: { kind, red, black }, reason, at }] };
}

/** All pictures that belong to the session. */
export function allPhotos({ photos, repairs }: RepairFile): readonly Photo[] {
  return [...photos, ...repairs.flatMap((repair) => repair.photos)];
}
