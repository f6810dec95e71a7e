/** A check in words. Pure. */
import { QUANTITIES, type Quantity } from '../drivers/reading.ts';
import type { CheckKind, Judgement, Limits } from '../server/diagnosis/judgement.ts';
import type { Check } from '../server/session/session.ts';
import { limitText, roundText } from './figures/reading-text.ts';
import { texts } from './texts.ts';

const OHMS: ReadonlySet<CheckKind> = new Set(['short-to-ground', 'short-between', 'continuity', 'resistance']);

/** What the meter must be set to for a check. */
export function checkQuantity(check: Pick<Check, 'kind' | 'quantity'>): Quantity {
  const { kind } = check;
  return check.quantity ?? (OHMS.has(kind) ? 'resistance' : kind === 'current' ? 'current' : 'voltage');
}

/** What was measured, as the samples say; what the check asks for while they say nothing. */
export function judgedQuantity(judgement: Judgement, check: Check): Quantity {
  return QUANTITIES.find((quantity) => quantity !== 'unknown' && quantity === judgement.quantity) ?? checkQuantity(check);
}

export function checkSentence(check: Check): string {
  return texts.check.sentence(check.red, check.black, check.condition);
}

/** Checks of what lies between the leads: one lead alone does not name them. */
const BETWEEN: ReadonlySet<CheckKind> = new Set(['voltage-drop', 'continuity', 'resistance', 'fuse', 'short-between']);

/** "Ground CL-", "Voltage drop S3 to C2/4". */
export function checkName({ kind, red, black }: Pick<Check, 'kind' | 'red' | 'black'>): string {
  const points = red !== '' && black !== '' && BETWEEN.has(kind) ? texts.check.between(red, black) : red;
  return `${texts.check.kinds[kind]}${points === '' ? '' : ` ${points}`}`;
}

/** "A healthy circuit reads about 0.22 V: …"; empty when the circuit model says nothing of this check. */
export function healthyText(check: Check): string {
  if (check.healthy === undefined) return '';
  const { value, why } = check.healthy;
  return texts.check.healthy(value === null ? texts.reading.beyond : roundText(checkQuantity(check), value), why);
}

export function limitsText(limits: Limits, quantity: Quantity): string {
  const { low, high } = limits;
  if (low === null && high === null) return texts.check.noLimits;
  if (low === null) return texts.check.notAbove(limitText(quantity, high));
  if (high === null) return texts.check.notBelow(limitText(quantity, low));
  return texts.check.within(limitText(quantity, low), limitText(quantity, high));
}

/** The SI value of a number typed by hand, comma or point; null for empty. @throws {RangeError} for anything else */
export function typedNumber(text: string): number | null {
  const trimmed = text.trim().replace(',', '.').replace('−', '-');
  if (trimmed === '') return null;
  const value = Number(trimmed);
  if (!Number.isFinite(value)) throw new RangeError(`not a number: ${text}`);
  return value;
}
