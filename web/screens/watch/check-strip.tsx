/** The check in progress, as a sentence, with what has to be done before and what to beware of. */
import { useState } from 'preact/hooks';
import { checkSentence } from '../../check-words.ts';
import { Icon } from '../../parts/glyphs.tsx';
import { live } from '../../state.ts';
import { texts } from '../../texts.ts';
import { CheckChooser } from './check-chooser.tsx';

export function CheckStrip() {
  const [isChoosing, setChoosing] = useState(false);
  const { check } = live.value!;
  return (
    <section class="check" aria-label={texts.check.label}>
      <div class="check-line">
        <h1><span class="check-kind">{texts.check.kinds[check.kind]}</span> <span class="check-sentence">{checkSentence(check)}</span></h1>
        <button type="button" onClick={() => setChoosing(true)}>{texts.check.choose}</button>
      </div>
      {check.instructions.length > 0 && (
        <ol class="instructions" aria-label={texts.check.first}>{check.instructions.map((step) => <li key={step}>{step}</li>)}</ol>
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
