/** The check in progress: as a sentence, what to beware of, what to do before touching, and how to go to another. */
import { useState } from 'preact/hooks';
import { WATCHINGS } from '../../../server/diagnosis/judgement.ts';
import { choose, request } from '../../actions.ts';
import { checkName, checkSentence, healthyText } from '../../check-words.ts';
import { skip } from '../../guided.ts';
import { Choice } from '../../parts/choice.tsx';
import { Icon } from '../../parts/glyphs.tsx';
import { KeyCap } from '../../parts/key-cap.tsx';
import { live, nextStep } from '../../state.ts';
import { texts } from '../../texts.ts';
import { CheckChooser } from './check-chooser.tsx';
import { Warnings } from './readiness.tsx';

export function CheckSentence() {
  const { check } = live.value!;
  return (
    <section class="check" aria-label={texts.check.label}>
      <h1><span class="check-kind">{texts.check.kinds[check.kind]}</span> <span class="check-sentence">{checkSentence(check)}</span></h1>
      <Warnings />
    </section>
  );
}

export function CheckChoice() {
  const [isChoosing, setChoosing] = useState(false);
  const { check, watching, take } = live.value!;
  const next = nextStep.value;
  return (
    <div class="check-row">
      <Choice name="watching" label={texts.watching.label} options={WATCHINGS} value={watching}
        text={(name) => texts.watching.names[name]} onChoose={(name) => void choose(check, name)} />
      <button type="button" onClick={() => setChoosing(true)}>{texts.check.choose}</button>
      {take?.watching !== 'spot' && (
        <button type="button" class="is-next" disabled={next?.kind !== 'check'} onClick={() => void skip()}>
          <Icon name="next" /><span>{next?.kind === 'check' ? texts.take.nextNamed(checkName(next.check)) : texts.take.next}</span><KeyCap action="skip" />
        </button>
      )}
      {isChoosing && <CheckChooser onClose={() => setChoosing(false)} />}
    </div>
  );
}

/** Read before the leads go on; while a take runs it folds up, because the room is the verdict's. */
export function Preparation() {
  const { check, take } = live.value!;
  return (
    <details key={take === null ? 'before' : 'during'} class="before" open={take === null}>
      <summary>{texts.check.first}</summary>
      {check.cautions.map((caution) => <p key={caution} class="before-caution"><Icon name="caution" /> {caution}</p>)}
      <ol class="instructions">{check.instructions.map((step) => <li key={step}>{step}</li>)}</ol>
      {check.healthy !== undefined && <p class="healthy">{healthyText(check)}</p>}
      {check.limitsBasis !== '' && <p class="healthy">{texts.verdict.basis(check.limitsBasis)}</p>}
      <Reseat />
    </details>
  );
}

/** Taking a connector apart wipes its contacts: what was measured before counts as found, what comes after does not. */
function Reseat() {
  const { reseats } = live.value!;
  const submit = (event: SubmitEvent): void => {
    event.preventDefault();
    const form = event.currentTarget as HTMLFormElement;
    const connector = String(new FormData(form).get('connector') ?? '').trim();
    if (connector === '') return;
    void request({ type: 'reseat', connector }).then((isDone) => isDone && form.reset());
  };
  return (
    <form class="reseat" onSubmit={submit}>
      <label>{texts.check.reseat}<input name="connector" maxLength={80} placeholder="C2" /></label>
      <button type="submit">{texts.check.reseated}</button>
      {reseats.length > 0 && <p class="hint">{texts.check.reseats(reseats.map(({ connector }) => connector).join(', '))}</p>}
    </form>
  );
}
