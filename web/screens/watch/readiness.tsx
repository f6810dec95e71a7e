/** What has to be read, confirmed or put right before a reading counts. One thing at a time. */
import { acknowledge, confirmCondition } from '../../actions.ts';
import { Icon } from '../../parts/glyphs.tsx';
import { live } from '../../state.ts';
import { texts } from '../../texts.ts';
import { RigLine } from './wiggle-panel.tsx';

const t = texts.check;

/** What is odd about the readings now: the meter on the wrong function, leads reversed ... */
export function Warnings() {
  const { warnings, reference } = live.value!;
  return (
    <div role="alert" class="warnings">
      {reference.hasMoved && <div class="caution is-warning"><Icon name="caution" /><p>{reference.message}</p></div>}
      {warnings.map((warning) => (
        <div key={warning.code} class="caution is-warning"><Icon name="caution" /><p>{warning.message}</p></div>
      ))}
    </div>
  );
}

/** Cautions to read, the state of the circuit to confirm, the leads to prove: each until it is done. */
export function Readiness() {
  const { cautions, condition, rig } = live.value!;
  const unread = cautions.filter((caution) => !caution.isAcknowledged);
  return (
    <div class="readiness">
      {unread[0] !== undefined && <Caution id={unread[0].id} text={unread[0].text} more={unread.length - 1} />}
      {condition.text !== '' && <Condition text={condition.text} isMet={condition.isMet} />}
      {rig.state !== 'proving' && <RigLine />}
    </div>
  );
}

function Caution({ id, text, more }: { id: string; text: string; more: number }) {
  return (
    <div class="caution" role="note" aria-label={t.cautions}>
      <Icon name="caution" />
      <p>{text}{more > 0 && <small> {t.moreCautions(more)}</small>}</p>
      <button type="button" onClick={() => void acknowledge(id)}>{t.understood}</button>
    </div>
  );
}

/** The state that the circuit must be in: nobody but the operator knows whether it is. */
function Condition({ text, isMet }: { text: string; isMet: boolean }) {
  return (
    <div class={`condition ${isMet ? 'is-met' : ''}`}>
      <p>{isMet ? t.conditionMet(text) : t.conditionAsked(text)}</p>
      <button type="button" aria-pressed={isMet} onClick={() => void confirmCondition(!isMet)}>{isMet ? t.conditionNo : t.conditionYes}</button>
    </div>
  );
}
