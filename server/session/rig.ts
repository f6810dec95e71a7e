/**
 * Whether the leads themselves can be trusted: a slipping lead looks exactly like the fault. Before a wiggle or road take, and
 * again after the first dropout, the leads are tugged with the harness still. Pure.
 */
import { sayTimes } from '../diagnosis/wording.ts';
import type { Dropout, Watching } from '../diagnosis/judgement.ts';
import { PROOF_TIME } from './take-account.ts';
import type { TakeAccount } from './take-account.ts';

export interface RigStanding {
  /**
   * not-needed: a spot take · unproved: no proof yet · proving: leads are being tugged · loose: the leads themselves dropped out ·
   * proved · again: a dropout came, and whether it was the leads' is not known until they are proved once more
   */
  readonly state: 'not-needed' | 'unproved' | 'proving' | 'loose' | 'proved' | 'again';
  /** Session clock, s: when the running proof ends; null when none runs. */
  readonly until: number | null;
  /** Dropouts while only the leads were tugged. */
  readonly dropouts: number;
  /** A sentence for the operator; empty when there is nothing to say. */
  readonly message: string;
}

export const NO_RIG: RigStanding = { state: 'not-needed', until: null, dropouts: 0, message: '' };

const TUG = `keep the harness still and tug the leads for ${PROOF_TIME} s`;

/** @param dropouts  of the take so far, in order */
export function rigStanding(account: TakeAccount, watching: Watching, dropouts: readonly Pick<Dropout, 'start'>[]): RigStanding {
  if (watching === 'spot') return NO_RIG;
  const { proofs, provingSince } = account;
  const slipped = dropouts.filter(({ start }) => isWhileProving(account, start)).length;
  if (slipped > 0) {
    return {
      state: 'loose', until: provingSince === null ? null : provingSince + PROOF_TIME, dropouts: slipped,
      message: `The leads slip: dropped out ${sayTimes(slipped)} while only the leads were tugged. Fasten them and prove them again.`,
    };
  }
  if (provingSince !== null) {
    return { state: 'proving', until: provingSince + PROOF_TIME, dropouts: 0, message: `Harness still: tug the leads, for ${PROOF_TIME} s.` };
  }
  const whole = proofs.filter((proof) => proof.isWhole);
  const first = dropouts[0];
  if (whole.length === 0) {
    const message = first === undefined
      ? `The leads are not proved yet: ${TUG}.`
      : `The leads are not proved, so the dropouts may be theirs: ${TUG}.`;
    return { state: 'unproved', until: null, dropouts: 0, message };
  }
  if (first !== undefined && !whole.some((proof) => proof.start >= first.start)) {
    return { state: 'again', until: null, dropouts: 0, message: `Prove the leads once more, now that it dropped out: ${TUG}.` };
  }
  return { state: 'proved', until: null, dropouts: 0, message: `The leads held while they were tugged for ${PROOF_TIME} s.` };
}

/** Whether only the leads were being tugged then. @param at  session clock, s */
export function isWhileProving({ proofs, provingSince }: TakeAccount, at: number): boolean {
  return proofs.some((proof) => at >= proof.start && at <= proof.end) || (provingSince !== null && at >= provingSince);
}
