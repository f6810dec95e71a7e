/** The road test: one large button to mark, the count of dropouts, and whether everything is being saved. Needs no attention. */
import { dropoutsIn } from '../../../server/diagnosis/judgement.ts';
import { useEffect } from 'preact/hooks';
import { choose, mark, request, startRoadTake, stopRoadTake } from '../../actions.ts';
import { checkSentence, judgedQuantity } from '../../check-words.ts';
import { bytesText } from '../../figures/bytes-text.ts';
import { readingText } from '../../figures/reading-text.ts';
import { clockText, durationText } from '../../figures/time-text.ts';
import { Icon, StateDot, VerdictMark } from '../../parts/glyphs.tsx';
import { Control } from '../../parts/control.tsx';
import { KeyCap } from '../../parts/key-cap.tsx';
import { contact, isBeyondRange, isTouchLocked, live, meter, pulse, reading, serviceClock, shownJudgement, staleFor } from '../../state.ts';
import { routeHash } from '../../routes.ts';
import { plainMarks } from '../../trace/lane.ts';
import { texts } from '../../texts.ts';
import { Readiness } from '../watch/readiness.tsx';
import { Proving } from '../watch/wiggle-panel.tsx';
import { mayControl } from '../sharing/index.ts';
import { Sensors } from './sensors.tsx';
import { UnlockButton } from './touch-lock.tsx';
import { useWakeLock, type WakeState } from '../../parts/wake-lock.ts';

const t = texts.road;

export function RoadScreen() {
  const now = live.value;
  const isRunning = now !== null && now.take !== null && now.take.watching === 'road';
  const wake = useWakeLock(isRunning);
  const isIdle = now !== null && now.take === null;
  useEffect(() => {
    // Cautions, zones and proof follow the way of watching, so that it is chosen with the screen.
    if (isIdle && mayControl.value && live.value!.watching !== 'road') void choose(live.value!.check, 'road');
  }, [isIdle, mayControl.value]);
  if (now === null) return <div class="road"><h1>{t.title}</h1><p class="empty">{texts.contact.connecting}</p></div>;
  const otherRuns = now.take !== null && !isRunning;
  const start = (): void => void startRoadTake();
  const stop = (): void => void stopRoadTake();
  const message = now.road.message === '' ? null : <div class="caution" role="note"><Icon name="caution" /><p>{now.road.message}</p></div>;
  const isLocked = isTouchLocked.value;
  // Before the drive what has to be read and proved comes first; during it the button does.
  if (!isRunning) {
    return (
      <div class="road">
        <Title />
        {mayControl.value && <Readiness />}
        {message}
        <LastRoadTest />
        <Count isRunning={false} />
        <States wake={wake} isRunning={false} />
        <Control>
          <Sensors />
          <button type="button" class="take-button is-start" disabled={otherRuns} onClick={start}>
            <Icon name="start" /> <span>{otherRuns ? t.otherRuns : t.start}</span> <KeyCap action="take" />
          </button>
        </Control>
      </div>
    );
  }
  return (
    <div class="road">
      <Title />
      {now.rig.state === 'proving' && <Control><Proving /></Control>}
      <Count isRunning />
      <States wake={wake} isRunning />
      <Control><Marks /></Control>
      <div class="road-foot">
        <Control>
        {isLocked ? <UnlockButton onUnlock={() => void request({ type: 'lock', isLocked: false })} /> : (
          <>
            <button type="button" onClick={() => void request({ type: 'lock', isLocked: true })}>{t.lock}</button>
            <button type="button" class="road-stop" onClick={stop}><Icon name="stop" /> {texts.take.stop}</button>
          </>
        )}
        </Control>
      </div>
      {!isLocked && <Control><Sensors /><Readiness /></Control>}
      {message}
    </div>
  );
}

/** What the drive that just ended showed, and the way to it. */
function LastRoadTest() {
  const { ended: [last], recording } = live.value!;
  if (last === undefined || last.take.watching !== 'road' || recording.file === null) return null;
  return (
    <p class="road-last">
      <VerdictMark verdict={last.verdict} /> <span>{t.ended(last.dropouts, texts.verdict.words[last.verdict])}</span>
      <a href={routeHash({ screen: 'review', session: recording.file, take: last.take.id })}>{t.lookAtIt}</a>
    </p>
  );
}

function Title() {
  return <h1>{t.title} <small>{checkSentence(live.value!.check)}</small></h1>;
}

function Count({ isRunning }: { isRunning: boolean }) {
  const judgement = shownJudgement.value;
  const now = live.value!;
  const clock = serviceClock.read(pulse.value);
  const shown = reading.value;
  const isShown = judgement !== null && isRunning;
  const last = judgement?.dropouts.at(-1);
  const quantity = judgement === null ? null : judgedQuantity(judgement, now.check);
  return (
    <section class="road-count" aria-label={texts.verdict.dropouts}>
      <p class="road-number">{isShown ? dropoutsIn(judgement) : '–'}</p>
      <p class="road-words">
        <b>{texts.verdict.dropouts}</b>
        {isShown && last !== undefined && clock !== null && <span>{t.lastDropout(durationText(Math.max(0, clock - last.end)))}</span>}
        {isShown && last === undefined && <span>{texts.dropouts.none}</span>}
      </p>
      <p class="road-words is-right">
        <b>{isRunning && clock !== null ? clockText(Math.max(0, clock - now.take!.start)) : t.notRunning}</b>
        <span>{shown === null ? texts.reading.none : isBeyondRange(shown) ? texts.reading.beyond : readingText(shown.quantity, shown.value, shown.resolution)}</span>
        {isShown && quantity !== null && <span class="road-verdict"><VerdictMark verdict={judgement.verdict} /> {texts.verdict.words[judgement.verdict]}</span>}
      </p>
    </section>
  );
}

function States({ wake, isRunning }: { wake: WakeState; isRunning: boolean }) {
  const now = live.value!;
  const stale = staleFor.value;
  const isReached = contact.value.state === 'open';
  const { recording } = now;
  const free = recording.freeBytes === null ? '' : t.free(bytesText(recording.freeBytes));
  return (
    <ul class="road-states" aria-label={texts.contact.label}>
      <li><StateDot state={isReached ? 'good' : 'bad'} /> {isReached ? t.serviceThere : t.serviceAway}</li>
      <li><StateDot state={isReached && stale === null ? 'good' : 'bad'} /> {stale === null ? t.meterReads(meter.value?.label ?? '') : texts.contact.silentFor(durationText(stale))}</li>
      <li><StateDot state={recording.state === 'saving' ? 'good' : recording.state === 'idle' ? 'off' : 'bad'} /> {texts.recording[recording.state === 'not-saving' ? 'notSaving' : recording.state]}{free === '' ? '' : `, ${free}`}</li>
      {isRunning && <li><StateDot state={wake === 'kept' ? 'good' : 'off'} /> {t.wake[wake]}</li>}
    </ul>
  );
}

function Marks() {
  const count = plainMarks(live.value!.marks).length;
  return (
    <section class="road-marks" aria-label={texts.marks.label}>
      <button type="button" class="road-mark" onClick={() => void mark()}>
        <Icon name="mark" /> <span>{texts.take.mark}</span> <b>{count}</b> <KeyCap action="mark" />
      </button>
      <div class="road-named">
        {t.marks.map((text) => <button key={text} type="button" onClick={() => void mark(text)}>{text}</button>)}
      </div>
    </section>
  );
}
