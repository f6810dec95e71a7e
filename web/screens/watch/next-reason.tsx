/** While a take runs: why the next check is the next one, where the search for the fault asks for it or a reading has to be made again; or what was found. */
import { checkName } from '../../check-words.ts';
import { firstReason } from '../../next-step.ts';
import { live, nextStep } from '../../state.ts';
import { texts } from '../../texts.ts';

export function NextReason() {
  const next = nextStep.value;
  const take = live.value?.take ?? null;
  if (take === null || next === null) return null;
  if (next.kind === 'found') return <p class="next-reason"><b>{texts.next.found(next.words)}</b></p>;
  if (next.isRepeat) return <p class="next-reason"><b>{texts.next.again(checkName(next.check))}</b> {next.why}</p>;
  // A wiggle take has zones to look at; the way on stands there when it ends.
  return next.isSearched && take.watching === 'spot' ? <p class="next-reason"><b>{texts.next.bySearch(checkName(next.check), next.watching === 'wiggle')}</b> {firstReason(next.why)}</p> : null;
}
