/** Why the next check is the next one, where the search for the fault asks for it; or what it has found. */
import { nextStep } from '../../state.ts';
import { texts } from '../../texts.ts';

export function NextReason() {
  const next = nextStep.value;
  if (next === null) return null;
  if (next.kind === 'found') return <p class="next-reason is-found"><b>{texts.next.found(next.words)}</b></p>;
  return next.isSearched ? <p class="next-reason">{texts.next.bySearch(next.watching === 'wiggle')} {next.why}</p> : null;
}
