/** A check that failed for another reason is set aside, with the reason; and counts again when it was not so. */
import { useState } from 'preact/hooks';
import type { Proof } from '../../../server/session/proof.ts';
import type { Check } from '../../../server/session/session.ts';
import { request } from '../../actions.ts';
import { checkName } from '../../check-words.ts';
import { VerdictMark } from '../../parts/glyphs.tsx';
import { live } from '../../state.ts';
import { texts } from '../../texts.ts';

const t = texts.repair;

const placeOf = ({ kind, red, black }: Check) => ({ kind, red, black });

export function SetAside({ check }: { check: Check }) {
  const [reason, setReason] = useState('');
  const set = (event: SubmitEvent): void => {
    event.preventDefault();
    void request({ type: 'set-aside', basedOn: live.value!.repair.revision, check: placeOf(check), reason });
  };
  return (
    <details class="set-aside">
      <summary>{t.otherReason}</summary>
      <form onSubmit={set}>
        <label>{t.whyAside}<input value={reason} required maxLength={400} placeholder={t.whyAsideHint} onInput={(event) => setReason(event.currentTarget.value)} /></label>
        <p class="hint">{t.asideMeans}</p>
        <button type="submit">{t.setAside}</button>
      </form>
    </details>
  );
}

export function ChecksAside({ aside, mayWrite }: { aside: Proof['aside']; mayWrite: boolean }) {
  const countAgain = (check: Check): void => void request({ type: 'count-again', basedOn: live.value!.repair.revision, check: placeOf(check) });
  return (
    <>
      {aside.map(({ take: { id, check }, reason }) => (
        <article class="panel proof-row" key={id}>
          <header><VerdictMark verdict="none" /><h3>{checkName(check)}</h3><b class="proof-state">{t.isAside}</b></header>
          <p>{t.asideBecause(id, reason)}</p>
          {mayWrite && <button type="button" onClick={() => countAgain(check)}>{t.countAgain}</button>}
        </article>
      ))}
    </>
  );
}
