/** The check in progress, as a sentence, with what has to be done before and what to beware of. */
import { useState } from 'preact/hooks';
import { WATCHINGS } from '../../../server/diagnosis/judgement.ts';
import { choose, goToNextCheck } from '../../actions.ts';
import { checkName, checkSentence, healthyText } from '../../check-words.ts';
import { Choice } from '../../parts/choice.tsx';
import { Icon } from '../../parts/glyphs.tsx';
import { KeyCap } from '../../parts/key-cap.tsx';
import { live, nextCheck } from '../../state.ts';
import { texts } from '../../texts.ts';
import { CheckChooser } from './check-chooser.tsx';

export function CheckStrip() {
  const [isChoosing, setChoosing] = useState(false);
  const { check, watching, take } = live.value!;
  const next = nextCheck.value;
  return (
    <section class="check" aria-label={texts.check.label}>
      <div class="check-line">
        <h1><span class="check-kind">{texts.check.kinds[check.kind]}</span> <span class="check-sentence">{checkSentence(check)}</span></h1>
      </div>
      <div class="check-row">
        <Choice name="watching" label={texts.watching.label} options={WATCHINGS} value={watching}
          text={(name) => texts.watching.names[name]} onChoose={(name) => void choose(check, name)} />
        <button type="button" onClick={() => setChoosing(true)}>{texts.check.choose}</button>
        <button type="button" class="is-next" disabled={next === null} onClick={goToNextCheck}>
          <Icon name="next" /><span>{next === null ? texts.take.next : texts.take.nextNamed(checkName(next))}</span><KeyCap action="next" />
        </button>
      </div>
      {(check.instructions.length > 0 || check.healthy !== undefined) && (
        // Read before the leads go on; while a take runs the room is the trace's.
        <details key={take === null ? 'before' : 'during'} class="before" open={take === null}>
          <summary>{texts.check.first}</summary>
          <ol class="instructions">{check.instructions.map((step) => <li key={step}>{step}</li>)}</ol>
          {check.healthy !== undefined && <p class="healthy">{healthyText(check)}</p>}
        </details>
      )}
      {check.cautions.length > 0 && (
        <div class="caution" role="note" aria-label={texts.check.cautions}>
          <Icon name="caution" />
          <ul>{check.cautions.map((caution) => <li key={caution}>{caution}</li>)}</ul>
        </div>
      )}
      {isChoosing && <CheckChooser onClose={() => setChoosing(false)} />}
    </section>
  );
}
