/** After a take: what it says of the fault, and the check that comes next. */
import { chanceWords } from '../../server/session/fault-words.ts';
import { goToRepair, goToTake } from '../actions.ts';
import { doubtedReading } from '../next-step.ts';
import { checkName } from '../check-words.ts';
import { routeHash } from '../routes.ts';
import { faultSearch, live, nextStep } from '../state.ts';
import { texts } from '../texts.ts';
import { Icon } from './glyphs.tsx';

export function SearchLine() {
  const t = texts.search;
  const result = faultSearch.value?.result ?? null;
  if (result === null || result.readings.length === 0 || live.value?.take !== null) return null;
  const { located } = result;
  const [first] = located.faults;
  const next = nextStep.value;
  if (first === undefined) return null;
  const doubted = doubtedReading(result);
  const words = located.double?.words ?? `${located.isFound ? t.found : t.likeliest}: ${first.brief} (${chanceWords(first.chance)}).`;
  return (
    <section class={`search-line ${located.isFound ? 'is-found' : ''}`} aria-label={t.label} aria-busy={faultSearch.value?.state === 'working'}>
      <p><b>{words}</b></p>
      {doubted !== null && <p class="search-doubt"><Icon name="caution" /> <span><b>{t.doubtful}.</b> {doubted.words}</span></p>}
      {next?.kind === 'check' && next.why !== '' && !next.isRepeat && <p>{next.why}</p>}
      <div>
        {next?.kind === 'check' && next.isSearched && (
          <button type="button" class={next.isRepeat ? 'strong' : ''} onClick={() => void goToTake(next)}>{(next.isRepeat ? t.repeat : t.goTo)(checkName(next.check))}</button>
        )}
        {located.isFound && <button type="button" class="strong" onClick={() => void goToRepair(located.double?.words ?? first.words)}>{t.toRepair}</button>}
        <a class="button-link" href={routeHash({ screen: 'chart' })}>{t.openChart}</a>
      </div>
    </section>
  );
}
