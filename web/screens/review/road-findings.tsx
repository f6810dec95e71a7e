/** What a road take says of its dropouts: by each kind of mark, by motion, and by the time since its start. */
import { useEffect, useState } from 'preact/hooks';
import { sayMarkAssociation } from '../../../server/diagnosis/road-words.ts';
import { tidyDown, tidyUp } from '../../../server/diagnosis/wording.ts';
import type { RoadReport } from '../../../server/session/road-report.ts';
import type { TakeSummary } from '../../../server/session/session.ts';
import { clockText, durationText } from '../../figures/time-text.ts';
import { texts } from '../../texts.ts';
import { fetchJson, type Loaded } from './recordings.ts';

const t = texts.roadFindings;

export function RoadFindings({ session, take }: { session: string; take: TakeSummary }) {
  const [loaded, setLoaded] = useState<Loaded<RoadReport> | null>(null);
  const isRoad = take.watching === 'road';
  useEffect(() => {
    if (isRoad) void fetchJson<RoadReport>(`/api/sessions/${encodeURIComponent(session)}/takes/${take.id}/road`).then(setLoaded);
  }, [session, take.id, isRoad]);
  if (!isRoad || loaded?.state !== 'loaded' || loaded.value.dropouts === 0) return null;
  const { byMark, words, sinceStart } = loaded.value;
  return (
    <section class="road-findings" aria-label={t.label}>
      <h3>{t.label}</h3>
      {words.map((sentence) => <p key={sentence}>{sentence}</p>)}
      {byMark.length > 0 && <ul class="mark-findings">{byMark.map((one) => <li key={one.text}>{sayMarkAssociation(one)}</li>)}</ul>}
      {sinceStart.stretches.length > 1 && (
        <div class="several-table" tabIndex={0}>
          <table>
            <caption>{t.sinceStart}</caption>
            <thead><tr><th scope="col">{t.from}</th><th scope="col">{t.watched}</th><th scope="col">{t.dropouts}</th><th scope="col">{t.rate}</th></tr></thead>
            <tbody>
              {sinceStart.stretches.map(({ start, end, watched, dropouts, rate }) => (
                <tr key={start}>
                  <td>{clockText(start - take.start, 0)} – {clockText(end - take.start, 0)}</td><td>{durationText(watched)}</td><td>{dropouts}</td>
                  <td>{rate === null ? t.notWatched : t.between(tidyDown(rate.low), tidyUp(rate.high))}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </div>
      )}
    </section>
  );
}
