/** While a take runs: why the next check is the next one, where the search for the fault asks for it; or what it has found. */
import { checkName } from '../../check-words.ts';
import { live, nextStep } from '../../state.ts';
import { texts } from '../../texts.ts';

export function NextReason() {
  const next = nextStep.value;
  if (live.value?.take === null || next === null) return null;
  if (next.kind === 'found') return <p class="next-reason"><b>{texts.next.found(next.words)}</b></p>;
  return next.isSearched ? <p class="next-reason"><b>{texts.next.bySearch(checkName(next.check), next.watching === 'wiggle')}</b> {next.why}</p> : null;
}
