/** What is known of the fault in one glance: found, likeliest, contradicted; and the one check to make next. */
import { chanceWords } from '../../../../server/session/fault-words.ts';
import { goToRepair, goToTake } from '../../../actions.ts';
import { checkName } from '../../../check-words.ts';
import { Icon } from '../../../parts/glyphs.tsx';
import { doubtedReading } from '../../../next-step.ts';
import { faultSearch } from '../../../state.ts';
import { texts } from '../../../texts.ts';
import { minutesText } from './minutes.ts';

const t = texts.search;

export function SearchHead() {
  const search = faultSearch.value;
  if (search === null) return null;
  const isWorking = search.state === 'working';
  return (
    <section class="search-head" aria-labelledby="search-title" aria-busy={isWorking}>
      <h2 id="search-title">{t.title}{isWorking && <small role="status"> {t.working}</small>}</h2>
      {search.state === 'no-chart' && <p class="empty">{t.noChart}</p>}
      {search.state === 'failed' && <p class="form-error" role="alert">{search.message}</p>}
      {search.repairedAt !== null && <p class="hint">{t.sinceRepair}</p>}
      {search.result !== null && <Standing />}
    </section>
  );
}

function Standing() {
  const { readings, located } = faultSearch.value!.result!;
  const [first] = located.faults;
  const [next] = located.next;
  const doubted = located.contradictions[0];
  const repeat = doubted === undefined ? undefined : readings[doubted.reading];
  const isUrgent = doubtedReading({ readings, located }) !== null;
  return (
    <>
      {readings.length === 0 && <p>{t.nothingRead}</p>}
      {located.double !== null && (
        <div class={`search-statement ${located.isFound ? 'is-found' : ''}`}>
          <p class="search-words">{located.double.words}</p>
          {located.isFound && <button type="button" onClick={() => void goToRepair(located.double!.words)}>{t.toRepair}</button>}
        </div>
      )}
      {located.double === null && first !== undefined && readings.length > 0 && (
        <div class={`search-statement ${located.isFound ? 'is-found' : ''}`}>
          <p class="search-word">{located.isFound ? t.found : <>{t.likeliest} <b>{chanceWords(first.chance)}</b></>}</p>
          <p class="search-words">{first.words}</p>
          {located.isFound && <p class="hint">{t.foundWith(chanceWords(first.chance))}</p>}
          {located.isFound && <button type="button" onClick={() => void goToRepair(first.words)}>{t.toRepair}</button>}
        </div>
      )}
      {doubted !== undefined && repeat !== undefined && (
        <div class="search-doubt" role="note">
          <Icon name="caution" />
          <p><b>{t.doubtful}.</b> {doubted.words}</p>
          <button type="button" class={isUrgent ? 'strong' : ''} onClick={() => void goToTake(repeat)}>{t.repeat(checkName(repeat.check))}</button>
        </div>
      )}
      {next !== undefined && (
        <div class="search-next">
          {/* What contradicts itself is cleared up first. */}
          <button type="button" class={isUrgent ? '' : 'strong'} onClick={() => void goToTake(next.take)}><Icon name="next" /> {t.goTo(checkName(next.take.check))}</button>
          <p>{next.words} <b>{t.minutesLong(minutesText(next.minutes))}</b> {next.why}</p>
        </div>
      )}
      {next === undefined && !located.isFound && <p class="hint">{t.noneTells}</p>}
    </>
  );
}
