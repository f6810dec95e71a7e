/**
 * When a spot take has captured a reading: once per contact, and not while the leads are still on their way. Pure: the caller brings the time.
 *
 * What leads in the air read as well (about nothing in volts, over-range in ohms) may be a dead or open circuit too: only time tells, so that
 * it has to stand for longer.
 */
import type { Judgement } from '../diagnosis/judgement.ts';

export interface Capture {
  /** Counts the contacts of the take: each is announced once. */
  readonly contact: number;
  /** SI; null for over-range. */
  readonly value: number | null;
}

/** Leads in the air are put somewhere within this, s (common practice, no source). */
export const IN_THE_AIR = 3;
/** What reads the same again after no longer a break than this is the same contact, s; and how close "the same" is, of the value. */
const SAME_WITHIN = { time: 1, share: 0.01 };
/** A value up to so many counts is about nothing, as the judge has it. */
const ABOUT_NOTHING = 5;
/** A lead that scratches about gives readings without any trend: they settle to nothing while they spread by more than this share of their value (common practice, no source). */
const WIDEST_SPREAD = 0.05;

interface Contact { readonly start: number; readonly end: number; readonly value: number | null; readonly spread: number }

export class CaptureWatch {
  #take: number | null = null;
  #contact: Contact | null = null;
  #captured: Capture | null = null;
  #overRangeSince: number | null = null;

  /** @param clock  session clock of the judgement, s @returns what counts as captured now; null for nothing so far */
  next(take: number, judgement: Judgement, clock: number): Capture | null {
    if (take !== this.#take) this.#begin(take);
    this.#overRangeSince = judgement.levelOverRange ? this.#overRangeSince ?? clock : null;
    const seen = this.#seen(judgement, clock);
    if (seen === null || isScratching(seen, judgement.resolution ?? 0) || (isLikeAir(seen, judgement) && seen.end - seen.start < IN_THE_AIR)) return this.#captured;
    const before = this.#contact;
    const isNew = before === null || this.#captured === null || !isSame(before, seen, judgement.resolution ?? 0);
    this.#contact = seen;
    this.#captured = { contact: (this.#captured?.contact ?? 0) + (isNew ? 1 : 0), value: seen.value };
    return this.#captured;
  }

  #begin(take: number): void {
    this.#take = take;
    this.#contact = null;
    this.#captured = null;
    this.#overRangeSince = null;
  }

  /** The contact that the take is judged by. */
  #seen({ levelOverRange, level, steady }: Judgement, clock: number): Contact | null {
    if (levelOverRange) return { start: this.#overRangeSince ?? clock, end: clock, value: null, spread: 0 };
    const stretch = level === null ? undefined : steady.findLast(({ value }) => value === level);
    return stretch === undefined ? null : stretch;
  }
}

function isScratching({ value, spread }: Contact, count: number): boolean {
  return spread > Math.max(ABOUT_NOTHING * count, WIDEST_SPREAD * Math.abs(value ?? 0));
}

function isLikeAir({ value }: Contact, { quantity, resolution }: Judgement): boolean {
  if (value === null) return quantity === 'resistance';
  return quantity !== 'resistance' && Math.abs(value) <= ABOUT_NOTHING * (resolution ?? 0);
}

function isSame(before: Contact, now: Contact, count: number): boolean {
  if (now.start - before.end > SAME_WITHIN.time) return false;
  if (before.value === null || now.value === null) return before.value === now.value;
  return Math.abs(now.value - before.value) <= Math.max(ABOUT_NOTHING * count, SAME_WITHIN.share * Math.abs(before.value));
}
