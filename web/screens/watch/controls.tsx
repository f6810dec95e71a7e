/** What the hand does: start and stop, mark, count a flex, go on. Targets are large enough for gloves. */
import { WATCHINGS } from '../../../server/diagnosis/judgement.ts';
import { choose, countFlex, goToNextCheck, mark, startOrStopTake } from '../../actions.ts';
import { checkName } from '../../check-words.ts';
import { clockText } from '../../figures/time-text.ts';
import { Choice } from '../../parts/choice.tsx';
import { Icon } from '../../parts/glyphs.tsx';
import { keyMap, keysOn, type Action } from '../../preferences.ts';
import { live, nextCheck, pulse, serviceClock } from '../../state.ts';
import { texts } from '../../texts.ts';

export function Controls() {
  const now = live.value!;
  const next = nextCheck.value;
  const isWiggle = now.watching === 'wiggle';
  return (
    <section class="controls" aria-label={texts.take.controls}>
      <Choice name="watching" label={texts.watching.label} options={WATCHINGS} value={now.watching}
        text={(watching) => texts.watching.names[watching]} onChoose={(watching) => void choose(now.check, watching)} />
      <p class="watching-meaning">{texts.watching.meanings[now.watching]}</p>
      <button type="button" class={`take-button ${now.take === null ? 'is-start' : 'is-stop'}`} onClick={startOrStopTake}>
        <Icon name={now.take === null ? 'start' : 'stop'} />
        <span>{now.take === null ? texts.take.start : texts.take.stop}</span>
        {now.take !== null && <TakeTime since={now.take.start} />}
        <KeyCap action="take" />
      </button>
      <div class="control-row">
        <button type="button" class="big" disabled={now.take === null} onClick={() => void mark()}>
          <Icon name="mark" /><span>{texts.take.mark}</span><KeyCap action="mark" />
        </button>
        {isWiggle && (
          <button type="button" class="big" disabled={now.take === null} onClick={countFlex}>
            <Icon name="flex" /><span>{texts.take.flex}</span>{now.take !== null && <b>{now.exposure.flexes}</b>}<KeyCap action="flex" />
          </button>
        )}
        <button type="button" class="big is-next" disabled={next === null} onClick={goToNextCheck}>
          <Icon name="next" /><span>{next === null ? texts.take.next : texts.take.nextNamed(checkName(next))}</span><KeyCap action="next" />
        </button>
      </div>
    </section>
  );
}

function TakeTime({ since }: { since: number }) {
  const clock = serviceClock.read(pulse.value) ?? since;
  return <span class="take-time">{clockText(Math.max(0, clock - since))}</span>;
}

export function KeyCap({ action }: { action: Action }) {
  return keysOn.value ? <kbd aria-hidden="true">{keyName(keyMap.value[action])}</kbd> : null;
}

export function keyName(key: string): string {
  return key === ' ' ? '␣' : key.length === 1 ? key.toUpperCase() : key;
}
