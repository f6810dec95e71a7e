/** What only the person at the vehicle knows: which loads work, which panels are off, what state the circuit is in. */
import type { SearchResult } from '../../../../server/session/fault-search.ts';
import { request } from '../../../actions.ts';
import { Choice } from '../../../parts/choice.tsx';
import { faultSearch, live } from '../../../state.ts';
import { texts } from '../../../texts.ts';
import { minutesText } from './minutes.ts';

const t = texts.search;
const STATES = Object.keys(t.states) as (keyof typeof t.states)[];
const ANSWERS = ['no', 'yes', 'unknown'] as const;

export function KnownPanel({ result }: { result: SearchResult }) {
  const circuits = live.value?.chart.circuits ?? [];
  // What was just said shows at once; the result follows when it is worked out.
  const { search, repairedAt, state } = faultSearch.value!;
  const worksOf = (load: string) => search.loads.find((own) => own.load === load && (repairedAt === null || own.at >= repairedAt))?.works ?? null;
  const circuitState = state === 'working' && search.state !== null ? search.state.state : result.state;
  return (
    <section class="search-known" aria-labelledby="known-title">
      <h3 id="known-title">{t.knownTitle}</h3>
      {circuits.length > 1 && (
        <label>{t.circuit}
          <select value={search.circuit ?? ''} onChange={(e) => void request({ type: 'locate-in', circuit: e.currentTarget.value === '' ? null : e.currentTarget.value })}>
            <option value="">{t.byTakes}: {circuits.find(({ id }) => id === result.circuit)?.name ?? ''}</option>
            {circuits.map(({ id, name }) => <option key={id} value={id}>{name}</option>)}
          </select>
        </label>
      )}
      {result.loads.map(({ id, name }) => (
        <Choice key={id} name={`load ${id}`} label={t.load(name)} options={ANSWERS} value={answerOf(worksOf(id))}
          text={(answer) => t.works[answer]} onChoose={(answer) => void request({ type: 'say-load', load: id, works: answer === 'unknown' ? null : answer === 'yes' })} />
      ))}
      {result.panels.length > 0 && (
        <fieldset class="search-panels">
          <legend>{t.panels}</legend>
          {result.panels.map(({ id, minutes, isRead }) => (
            <label key={id} class="inline">
              <input type="checkbox" checked={isRead || search.panelsOff.includes(id)} disabled={isRead} onChange={(e) => void request({ type: 'say-panel', panel: id, isOff: e.currentTarget.checked })} />
              {id} <small>{t.panelMinutes(minutesText(minutes))}</small>
            </label>
          ))}
        </fieldset>
      )}
      <label>{t.state}
        <select value={circuitState} onChange={(e) => void request({ type: 'say-state', state: e.currentTarget.value as SearchResult['state'] })}>
          {STATES.map((state) => <option key={state} value={state}>{t.states[state]}</option>)}
        </select>
      </label>
    </section>
  );
}

function answerOf(works: boolean | null): (typeof ANSWERS)[number] {
  return works === null ? 'unknown' : works ? 'yes' : 'no';
}
