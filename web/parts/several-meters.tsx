/** What several meters on one circuit say together: the places of the break, and which meter saw what. */
import { FOUND_CHANCE, shortPlace } from '../../server/diagnosis/break-words.ts';
import type { Judgement } from '../../server/diagnosis/judgement.ts';
import { sayShare } from '../../server/diagnosis/wording.ts';
import { clockText } from '../figures/time-text.ts';
import { texts } from '../texts.ts';

const t = texts.several;

/** @param origin  session clock, s: times are shown from there */
export function SeveralMeters({ judgement: { several }, origin }: { judgement: Judgement; origin: number }) {
  if (!several || several.coincidences.length === 0) return null;
  return (
    <details class="several">
      <summary>{t.title}</summary>
      {several.places.length > 0 && (
        <ol class="places">
          {several.places.filter(({ chance }) => chance >= 0.01).map(({ place, chance }) => <li key={shortPlace(place)}><span>{shortPlace(place)}</span> <b>{sayShare(chance, FOUND_CHANCE)}</b></li>)}
        </ol>
      )}
      <div class="several-table" tabIndex={0}>
        <table>
          <thead><tr><th scope="col">{t.at}</th>{several.meters.map((name) => <th key={name} scope="col">{name}</th>)}</tr></thead>
          <tbody>
            {several.coincidences.slice(-20).map(({ start, seenBy, blind }) => (
              <tr key={start}>
                <td>{clockText(start - origin, 2)}</td>
                {several.meters.map((name) => <td key={name}>{seenBy.includes(name) ? t.seen : blind.includes(name) ? t.blind : t.missed}</td>)}
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </details>
  );
}
