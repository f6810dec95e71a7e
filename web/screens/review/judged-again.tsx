/** Says when a recording was judged by another version, and what comes out differently today. */
import { useEffect, useState } from 'preact/hooks';
import { ALGORITHM } from '../../../server/diagnosis/algorithm.ts';
import type { JudgedAgain as Again } from '../../../server/session/judged-again.ts';
import type { TakeSummary } from '../../../server/session/session.ts';
import { texts } from '../../texts.ts';
import { fetchJson, type Loaded } from './recordings.ts';

const t = texts.again;

export function JudgedAgain({ session, take }: { session: string; take: TakeSummary }) {
  const isOlder = take.judgement.algorithm !== ALGORITHM;
  const [again, setAgain] = useState<Loaded<Again> | null>(null);
  const [isAsked, setAsked] = useState(false);
  // Only when asked: all samples are judged for it, which takes a long take minutes.
  useEffect(() => {
    if (isOlder && isAsked) void fetchJson<Again>(`/api/sessions/${encodeURIComponent(session)}/takes/${take.id}/again`).then(setAgain);
  }, [session, take.id, isOlder, isAsked]);
  if (!isOlder) return null;
  return (
    <section class="judged-again" aria-label={t.label}>
      {/* Closed until asked for: what comes in late must not push the trace away from under a finger. */}
      <details onToggle={(event) => event.currentTarget.open && setAsked(true)}>
        <summary>{t.older(take.judgement.algorithm, ALGORITHM)}</summary>
        {isAsked && again === null && <p role="status">{t.judging}</p>}
        {again?.state === 'failed' && <p>{texts.review.failed(again.why)}</p>}
        {again?.state === 'loaded' && (
          <ul>
            {again.value.changes.map((change) => <li key={change}>{change}</li>)}
            {again.value.differences.length === 0 ? <li>{t.same}</li> : again.value.differences.map((difference) => <li key={difference}><b>{difference}</b></li>)}
          </ul>
        )}
      </details>
    </section>
  );
}
