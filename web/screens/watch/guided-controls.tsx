/** A spot take by one key at a time: the captured reading, then accept, repeat, skip. Targets are large enough for gloves. */
import { mark, startOrStopTake } from '../../actions.ts';
import { checkName, judgedQuantity } from '../../check-words.ts';
import { readingText } from '../../figures/reading-text.ts';
import { accept, repeat, skip } from '../../guided.ts';
import { Icon } from '../../parts/glyphs.tsx';
import { KeyCap } from '../../parts/key-cap.tsx';
import { captured, live, nextStep, shownJudgement } from '../../state.ts';
import { texts } from '../../texts.ts';
import { TakeTime } from './controls.tsx';

const t = texts.guided;

export function GuidedControls() {
  const { take, check } = live.value!;
  const judgement = shownJudgement.value;
  const capture = captured.value;
  const next = nextStep.value;
  return (
    <section class="controls is-guided" aria-label={texts.take.controls}>
      <p class="captured" role="status">
        {capture === null || judgement === null ? t.holdStill
          : t.captured(capture.value === null ? texts.reading.beyond : readingText(judgedQuantity(judgement, check), capture.value, judgement.resolution), texts.verdict.words[judgement.verdict])}
      </p>
      <button type="button" class="take-button is-start" disabled={capture === null} onClick={accept}>
        <Icon name="next" /><span>{t.accept} <small>{next?.kind === 'check' ? next.isRepeat ? t.acceptAgain(checkName(next.check)) : t.acceptNext(checkName(next.check), next.isSearched) : t.acceptLast}</small></span><KeyCap action="accept" />
      </button>
      <button type="button" class="big" onClick={repeat}><span>{t.repeat}</span><KeyCap action="repeat" /></button>
      <button type="button" class="big" disabled={next?.kind !== 'check'} onClick={() => void skip()}><span>{t.skip}</span><KeyCap action="skip" /></button>
      <button type="button" class="big" onClick={() => void mark()}><Icon name="mark" /><span>{texts.take.mark}</span><KeyCap action="mark" /></button>
      <button type="button" class="big" onClick={startOrStopTake}><Icon name="stop" /><span>{texts.take.stop}</span> <TakeTime since={take!.start} /> <KeyCap action="take" /></button>
    </section>
  );
}
