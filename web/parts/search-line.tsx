/** After a take: what it says of the fault, and the check that comes next. */
import { chanceWords } from '../../server/session/fault-words.ts';
import { goToTake } from '../actions.ts';
import { checkName } from '../check-words.ts';
import { routeHash } from '../routes.ts';
import { faultSearch, live, nextStep } from '../state.ts';
import { texts } from '../texts.ts';

export function SearchLine() {
  const t = texts.search;
  const result = faultSearch.value?.result ?? null;
  if (result === null || result.readings.length === 0 || live.value?.take !== null) return null;
  const { located } = result;
  const [first] = located.faults;
  const next = nextStep.value;
  if (first === undefined) return null;
  const words = located.double?.words ?? `${located.isFound ? t.found : t.likeliest}: ${first.brief} (${chanceWords(first.chance)}).`;
  return (
    <section class={`search-line ${located.isFound ? 'is-found' : ''}`} aria-label={t.label} aria-busy={faultSearch.value?.state === 'working'}>
      <p><b>{words}</b></p>
      {next?.kind === 'check' && next.why !== '' && <p>{next.why}</p>}
      <div>
        {next?.kind === 'check' && next.isSearched && <button type="button" onClick={() => void goToTake(next)}>{t.goTo(checkName(next.check))}</button>}
        <a class="button-link" href={routeHash({ screen: 'chart' })}>{t.openChart}</a>
      </div>
    </section>
  );
}
