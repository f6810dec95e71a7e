/** The search in full: the likeliest faults, the checks that come next, what the user says of the circuit. The drawing shows the same. */
import { chanceWords } from '../../../../server/session/fault-words.ts';
import { goToTake } from '../../../actions.ts';
import { bandOf } from '../../../chart/chances.ts';
import { checkName } from '../../../check-words.ts';
import { faultSearch } from '../../../state.ts';
import { texts } from '../../../texts.ts';
import { KnownPanel } from './known-panel.tsx';
import { minutesText } from './minutes.ts';

const t = texts.search;
/** Faults that are listed at once: so many at most, and from this chance on; one at least. */
const LISTED = { most: 6, from: 0.01 };

export function SearchDetails() {
  const result = faultSearch.value?.result ?? null;
  if (result === null) return null;
  return (
    <div class="search-details">
      <Faults />
      <NextChecks />
      <KnownPanel result={result} />
    </div>
  );
}

function Faults() {
  const { located, tested, readings, leftOut } = faultSearch.value!.result!;
  const rows = located.double?.faults ?? located.faults;
  const listed = Math.max(1, Math.min(LISTED.most, rows.filter(({ chance }) => chance >= LISTED.from).length));
  const row = (fault: (typeof rows)[number]) => {
    const test = tested.find(({ part }) => part === fault.at);
    return (
      <tr key={`${fault.kind} ${fault.at} ${fault.other ?? ''} ${fault.intermittent}`}>
        <td><ChanceBar chance={fault.chance} isFound={located.isFound} /></td>
        <td class="fault-words">{fault.words}</td>
        <td>{test === undefined ? t.notTested : t.testedBy(test.take, texts.verdict.words[test.verdict])}</td>
      </tr>
    );
  };
  return (
    <section class="search-faults" aria-labelledby="faults-title">
      <h3 id="faults-title">{t.faultsTitle}</h3>
      <div class="table-scroll" tabIndex={0} role="group" aria-label={t.faultsTitle}>
        <table>
          <thead><tr><th scope="col">{t.chance}</th><th scope="col">{t.fault}</th><th scope="col">{t.tested}</th></tr></thead>
          <tbody>{rows.slice(0, listed).map(row)}</tbody>
        </table>
      </div>
      {rows.length > listed && (
        <details><summary>{t.more(rows.length - listed)}</summary><table><tbody>{rows.slice(listed).map(row)}</tbody></table></details>
      )}
      <p class="hint search-readings">{t.readings(readings.length)} {leftOut.length > 0 && t.leftOut(leftOut.join(', '))}</p>
    </section>
  );
}

/** The chance as a figure and as a bar in the pattern of the drawing. */
function ChanceBar({ chance, isFound }: { chance: number; isFound: boolean }) {
  const band = bandOf(chance, isFound);
  return (
    <span class="chance">
      <b>{chanceWords(chance)}</b>
      <svg viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">
        {band !== null && <path d={`M0 5H${Math.max(1, 100 * chance)}`} class={`chance-line is-${band}`} />}
      </svg>
    </span>
  );
}

function NextChecks() {
  const { located } = faultSearch.value!.result!;
  return (
    <section class="search-checks" aria-labelledby="next-title">
      <h3 id="next-title">{t.nextTitle}</h3>
      {located.next.length === 0 && <p class="empty">{located.isFound ? t.found : t.noneTells}</p>}
      <ol>
        {located.next.map((next) => (
          <li key={next.check}>
            <button type="button" onClick={() => void goToTake(next.take)}>
              <strong>{checkName(next.take.check)}</strong>
              <span class="search-minutes">{t.minutes(minutesText(next.minutes))}</span>
            </button>
            <p>{next.words}{next.take.zone !== null && ` (${t.zone(next.take.zone)})`}</p>
            {next.why !== '' && <p class="hint">{next.why}</p>}
          </li>
        ))}
      </ol>
      {located.next.length > 0 && located.expectedMinutes > 0 && <p class="hint">{t.toTheEnd(minutesText(located.expectedMinutes))}</p>}
    </section>
  );
}
