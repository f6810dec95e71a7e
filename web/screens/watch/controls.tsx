/** What the hand does while it works: start and stop, mark, count a flex. Targets are large enough for gloves. */
import { countFlex, mark, startOrStopTake } from '../../actions.ts';
import { clockText } from '../../figures/time-text.ts';
import { Icon } from '../../parts/glyphs.tsx';
import { KeyCap } from '../../parts/key-cap.tsx';
import { live, pulse, serviceClock } from '../../state.ts';
import { plainMarks } from '../../trace/lane.ts';
import { texts } from '../../texts.ts';
import { GuidedControls } from './guided-controls.tsx';

export function Controls() {
  const now = live.value!;
  const isRunning = now.take !== null;
  if (now.take?.watching === 'spot') return <GuidedControls />;
  const marks = plainMarks(now.marks).length;
  return (
    <section class="controls" aria-label={texts.take.controls}>
      <p class="watching-meaning">{isRunning ? texts.watching.meanings[now.watching] : texts.take.none}</p>
      <button type="button" class={`take-button ${isRunning ? 'is-stop' : 'is-start'}`} onClick={startOrStopTake}>
        <Icon name={isRunning ? 'stop' : 'start'} />
        <span>{isRunning ? texts.take.stop : texts.take.start}</span>
        {now.take !== null && <TakeTime since={now.take.start} />}
        <KeyCap action="take" />
      </button>
      <button type="button" class="big" disabled={!isRunning} onClick={() => void mark()}>
        <Icon name="mark" /><span>{texts.take.mark}</span>{marks > 0 && isRunning && <b>{marks}</b>}<KeyCap action="mark" />
      </button>
      {now.watching === 'wiggle' && (
        <button type="button" class="big" disabled={!isRunning} onClick={countFlex}>
          <Icon name="flex" /><span>{texts.take.flex}</span>{isRunning && <b>{now.exposure.flexes}</b>}<KeyCap action="flex" />
        </button>
      )}
    </section>
  );
}

/** How long the take has run. */
export function TakeTime({ since }: { since: number }) {
  const clock = serviceClock.read(pulse.value) ?? since;
  return <span class="take-time">{clockText(Math.max(0, clock - since))}</span>;
}
