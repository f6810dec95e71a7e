/** What a take proves of dropouts, claim by claim, with what each still needs; live and in review alike. */
import type { ClaimMade, Judgement } from '../../server/diagnosis/judgement.ts';
import { tidyUp } from '../../server/diagnosis/wording.ts';
import { durationText } from '../figures/time-text.ts';
import { texts } from '../texts.ts';

const t = texts.claims;

export function Claims({ judgement: { claims = [] } }: { judgement: Judgement }) {
  const [first] = claims;
  if (first === undefined) return null;
  return (
    <section class="claims" aria-label={t.label}>
      <h2>{t.title(durationText(first.length))}</h2>
      <ul>{claims.map((claim) => <li key={claim.per} class={claim.isMet ? 'is-met' : ''}><b>{limitText(claim)}</b> <span>{needText(claim)}</span></li>)}</ul>
    </section>
  );
}

function limitText({ per, limit }: ClaimMade): string {
  if (limit === null) return t.nothing[per];
  return t.limit[per](per === 'flex' ? `${tidyUp(100 * limit)} %` : tidyUp(limit));
}

function needText({ per, rate, needed, isMet }: ClaimMade): string {
  const aim = per === 'flex' ? `${Number((100 * rate).toPrecision(6))} %` : `${rate}`;
  if (isMet) return t.met(aim);
  if (needed === null) return t.never(aim);
  return t.needs(aim, per === 'hour' ? durationText(needed * 3600) : per === 'flex' ? t.flexes(Math.ceil(needed)) : t.seconds(Math.ceil(needed)));
}
