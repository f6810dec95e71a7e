/** Limits that the user changed for every check of a kind: they hold for the session, say whose they are, and can be taken back. Pure. */
import type { Quantity } from '../../drivers/reading.ts';
import type { CheckKind, Limits } from '../diagnosis/judgement.ts';
import { quantityOf } from './check-function.ts';
import type { Check } from './session.ts';

export interface OwnLimits {
  readonly kind: CheckKind;
  /** Function of the meter: a ground is checked in volts and in ohms. */
  readonly quantity: Quantity;
  readonly limits: Limits;
  /** Session clock, s, of the change. */
  readonly at: number;
}

export type LimitsChange = Omit<OwnLimits, 'limits'> & { readonly limits: Limits | null };

/** @returns the list with this change: one entry a kind and function at most */
export function changeLimits(own: readonly OwnLimits[], { limits, ...change }: LimitsChange): readonly OwnLimits[] {
  const others = own.filter(({ kind, quantity }) => kind !== change.kind || quantity !== change.quantity);
  return limits === null ? others : [...others, { ...change, limits }];
}

/** The check with the limits that hold for it; the basis says that they were changed, and what they were. */
export function withOwnLimits(check: Check, own: readonly OwnLimits[]): Check {
  const quantity = quantityOf(check);
  const found = own.find((one) => one.kind === check.kind && one.quantity === quantity);
  if (found === undefined) return check;
  return { ...check, limits: found.limits, limitsBasis: `changed by you, for every check of this kind${check.limitsBasis === '' ? '' : `; before: ${check.limitsBasis}`}` };
}
