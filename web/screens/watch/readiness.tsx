/** What has to be read, confirmed or put right before a reading counts. One thing at a time. */
import { acknowledge, confirmCondition } from '../../actions.ts';
import { Icon } from '../../parts/glyphs.tsx';
import { live } from '../../state.ts';
import { texts } from '../../texts.ts';

const t = texts.check;

/** What is odd about the readings now: the meter on the wrong function, leads reversed ... */
export function Warnings() {
  const { warnings } = live.value!;
  return (
    <div role="alert" class="warnings">
      {warnings.map((warning) => (
        <div key={warning.code} class="caution is-warning"><Icon name="caution" /><p>{warning.message}</p></div>
      ))}
    </div>
  );
}

/** The next caution that was not read yet; afterwards those of the check itself. */
export function Cautions() {
  const { cautions, check } = live.value!;
  const unread = cautions.filter((caution) => !caution.isAcknowledged);
  const next = unread[0];
  if (next !== undefined) {
    return (
      <div class="caution" role="note" aria-label={t.cautions}>
        <Icon name="caution" />
        <p>{next.text}{unread.length > 1 && <small> {t.moreCautions(unread.length - 1)}</small>}</p>
        <button type="button" onClick={() => void acknowledge(next.id)}>{t.understood}</button>
      </div>
    );
  }
  if (check.cautions.length === 0) return null;
  return (
    <div class="caution" role="note" aria-label={t.cautions}>
      <Icon name="caution" />
      <ul>{check.cautions.map((caution) => <li key={caution}>{caution}</li>)}</ul>
    </div>
  );
}

/** The state that the circuit must be in: nobody but the operator knows whether it is. */
export function Condition() {
  const { condition } = live.value!;
  if (condition.text === '') return null;
  return (
    <div class={`condition ${condition.isMet ? 'is-met' : ''}`}>
      <p>{condition.isMet ? t.conditionMet(condition.text) : t.conditionAsked(condition.text)}</p>
      <button type="button" aria-pressed={condition.isMet} onClick={() => void confirmCondition(!condition.isMet)}>
        {condition.isMet ? t.conditionNo : t.conditionYes}
      </button>
    </div>
  );
}
