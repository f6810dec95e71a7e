/**
 * Rig proof: leads tugged with the harness still. A slipping lead looks exactly like the fault, so that a wiggle or road take
 * proves nothing before the leads have shown that they hold, and again once a dropout was seen. Pure.
 */
import type { LiveState } from '../../server/live/protocol.ts';
import type { Check } from '../../server/session/session.ts';

/** Common practice, no source, s. */
export const PROOF_TIME = 10;
const PREFIX = 'rig proof ';

/** The check of a rig proof: the same leads, the harness still. */
export function rigProofOf(check: Check, condition: string, instruction: string): Check {
  const rest = isRigProof(check) ? check : { ...check, id: `${PREFIX}${check.id}`.slice(0, 100) };
  return { ...rest, condition, instructions: [instruction] };
}

export function isRigProof(check: Check): boolean {
  return check.id.startsWith(PREFIX);
}

export type RigState =
  /** Nothing has been proved for these leads. */
  | { readonly state: 'unproved' }
  /** The leads themselves dropped out. */
  | { readonly state: 'loose'; readonly dropouts: number }
  | { readonly state: 'proved' }
  /** A dropout has been seen since the last proof: prove again that it is not the leads. */
  | { readonly state: 'again' };

/**
 * What is proved of the leads of a check.
 * @param ended  takes of this session, newest first
 * @param running  dropouts of the running take of this check, 0 when none runs
 */
export function rigState(check: Check, ended: LiveState['ended'], running: number): RigState {
  let dropoutsSince = running;
  let wasAgain = false;
  for (const { take, dropouts } of ended) {
    if (take.check.red !== check.red || take.check.black !== check.black) continue;
    if (!isRigProof(take.check)) {
      if (take.watching !== 'spot') dropoutsSince += dropouts;
      continue;
    }
    // One cut short proves nothing, but what fell out of it counts.
    if (dropouts > 0) return { state: 'loose', dropouts };
    if (take.end === null || take.end - take.start < PROOF_TIME - 0.5) continue;
    wasAgain = true;
    break;
  }
  if (!wasAgain) return { state: 'unproved' };
  return dropoutsSince > 0 ? { state: 'again' } : { state: 'proved' };
}
