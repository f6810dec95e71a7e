/** A verdict with its reasons and the numbers behind it; live and in review alike. */
import { dropoutsIn } from '../../server/diagnosis/judgement.ts';
import type { Judgement, Watching } from '../../server/diagnosis/judgement.ts';
import { sayTime, tidyUp } from '../../server/diagnosis/wording.ts';
import { judgedQuantity, limitsText } from '../check-words.ts';
import { readingText } from '../figures/reading-text.ts';
import { durationText } from '../figures/time-text.ts';
import type { Check } from '../../server/session/session.ts';
import { texts } from '../texts.ts';
import { Claims } from './claims.tsx';
import { VerdictMark } from './glyphs.tsx';
import { SeveralMeters } from './several-meters.tsx';
import { Catching, VisibleSeries } from './sight.tsx';

interface Props {
  readonly judgement: Judgement | null;
  readonly check: Check;
  readonly watching: Watching;
  readonly stage: string;
  /** Start of the take, s on the session clock. */
  readonly origin: number;
}

export function VerdictPanel({ judgement, check, watching, stage, origin }: Props) {
  const t = texts.verdict;
  if (judgement === null) {
    return (
      <section class="verdict" aria-label={t.label}>
        <div class="verdict-head"><VerdictMark verdict="none" /><p class="verdict-word">{t.none}</p></div>
        <p class="verdict-reason">{t.noneWhy}</p>
      </section>
    );
  }
  const [first, ...others] = judgement.reasons;
  return (
    <section class={`verdict is-${judgement.verdict}`} aria-label={t.label}>
      <div class="verdict-head">
        <VerdictMark verdict={judgement.verdict} />
        <p class="verdict-word"><span>{t.words[judgement.verdict]}</span> <small>{stage}</small></p>
        {watching !== 'spot' && <p class="verdict-count"><strong>{dropoutsIn(judgement)}</strong> <span>{t.dropouts}</span></p>}
      </div>
      {first !== undefined && <p class="verdict-reason">{first}</p>}
      {others.length > 0 && (
        <ul class="verdict-others" aria-label={t.more}>{others.map((reason) => <li key={reason}>{reason}</li>)}</ul>
      )}
      <SeveralMeters judgement={judgement} origin={origin} />
      <Numbers judgement={judgement} check={check} isSpot={watching === 'spot'} />
      <Claims judgement={judgement} />
    </section>
  );
}

/** In a spot take the leads are held by hand: dropouts are not judged, and nothing is said of how short a one would show. */
function Numbers({ judgement: j, check, isSpot }: { judgement: Judgement; check: Check; isSpot: boolean }) {
  const t = texts.verdict;
  const quantity = judgedQuantity(j, check);
  // As the reasons beside them say it.
  const time = (seconds: number | null) => (seconds === null ? t.unknown : sayTime(seconds));
  const level = j.levelOverRange ? texts.reading.beyond : j.level === null ? t.unknown : readingText(quantity, j.level, j.resolution);
  const rate = j.rateLimitPerHour;
  const steady = j.steady.at(-1);
  return (
    <>
      <dl class="numbers">
        <dt>{t.level}</dt><dd>{level}</dd>
        {j.leadOhms !== undefined && j.level !== null && <><dt>{t.withoutLeads}</dt><dd>{readingText(quantity, j.level - j.leadOhms, j.resolution)}</dd></>}
        {steady !== undefined && <><dt>{t.steady}</dt><dd>{readingText(quantity, steady.value, j.resolution)}</dd></>}
        <dt>{t.limits}</dt><dd>{limitsText(check.limits, quantity)}</dd>
        {!isSpot && <><dt>{t.shortest}</dt><dd>{time(j.shortestVisibleDropout)}</dd></>}
        {!isSpot && <><dt>{t.sure}</dt><dd>{time(j.sureDropout)}</dd></>}
        <VisibleSeries judgement={j} />
        {rate !== null && rate.limit !== null && <><dt>{t.rate(durationText(rate.length))}</dt><dd>{t.perHour(tidyUp(rate.limit))}</dd></>}
      </dl>
      <details class="more-numbers">
        <summary>{t.numbers}</summary>
        <dl class="numbers">
          <Catching judgement={j} />
          {!isSpot && <><dt>{t.threshold}</dt><dd>{readingText(quantity, j.threshold, j.resolution)}</dd></>}
          <dt>{t.noise}</dt><dd>{readingText(quantity, j.noise, j.resolution === null ? null : j.resolution / 10)}</dd>
          <dt>{t.samples}</dt><dd>{j.samples}</dd>
          <dt>{t.interval}</dt><dd>{time(j.interval)}</dd>
          {!isSpot && <><dt>{t.sags}</dt><dd>{j.sags.length}</dd></>}
          {!isSpot && <><dt>{t.shifts}</dt><dd>{j.shifts.length}</dd></>}
          <dt>{t.gaps}</dt><dd>{j.gaps.length}</dd>
          {check.limitsBasis !== '' && <><dt>{t.limits}</dt><dd>{check.limitsBasis}</dd></>}
        </dl>
      </details>
    </>
  );
}
