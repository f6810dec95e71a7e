/** The trace as it runs: the newest sample at the right edge, silence as silence. */
import type { Signal } from '@preact/signals';
import { useRef, useState } from 'preact/hooks';
import type { Limits } from '../../../server/diagnosis/judgement.ts';
import { switchFollower } from '../../actions.ts';
import { checkQuantity } from '../../check-words.ts';
import { axisText } from '../../figures/axis-text.ts';
import { limitText, readingText } from '../../figures/reading-text.ts';
import { heardWords, ListeningPanel } from '../../frame/listening-panel.tsx';
import { Control } from '../../parts/control.tsx';
import { Choice } from '../../parts/choice.tsx';
import { Icon } from '../../parts/glyphs.tsx';
import { TraceFigure, type Painter } from '../../parts/trace-figure.tsx';
import { toneOn, traceWindow, voiceOn, WINDOWS } from '../../preferences.ts';
import { soundState } from '../../sound/audio.ts';
import { canListen, listening } from '../../sound/listening.ts';
import { hasVoice } from '../../sound/voice.ts';
import { judgedMeter, live, pulse, reading, serviceClock, shownJudgement, traceOf } from '../../state.ts';
import { texts } from '../../texts.ts';
import { traceLine } from '../../trace/columns.ts';
import { laneItems, type LaneItem } from '../../trace/lane.ts';
import { WigglePanel } from './wiggle-panel.tsx';
import { SteadyRange, timeStep, valueRange } from '../../trace/scale.ts';

export function LiveTrace() {
  const scale = useRef(new SteadyRange());
  const painter = useRef<Painter>(() => null);
  painter.current = (widthPx) => paint(widthPx, scale.current);
  const isWiggle = live.value!.watching === 'wiggle';
  return (
    <section class={`trace ${isWiggle ? 'has-wiggle' : ''}`} aria-label={texts.trace.label}>
      <div class="trace-column">
        <div class="trace-head">
          <Follower name={texts.sound.tone} on={toneOn} />
          {hasVoice && <Follower name={texts.sound.voice} on={voiceOn} />}
          {canListen() && <VoiceControl />}
          <Choice name="window" label={texts.trace.window} options={WINDOWS} value={traceWindow.value} text={texts.trace.windowOption}
            onChoose={(seconds) => {
              scale.current.reset();
              traceWindow.value = seconds;
            }} />
        </div>
        {listening.value !== 'off' && <p class="heard" role="status">{heardWords() || texts.listening.states[listening.value]}</p>}
        <TraceFigure isLive painter={painter} description={useDescription()} laneDescription={useLaneDescription()} />
      </div>
      {isWiggle && <Control><WigglePanel /></Control>}
    </section>
  );
}

/** Sound that accompanies the watching. It is silent, and says so, while sound as a whole is off. */
function Follower({ name, on }: { name: string; on: Signal<boolean> }) {
  return (
    <button type="button" class="follower" aria-pressed={on.value} onClick={() => void switchFollower(on)}>
      <Icon name={on.value && soundState.value === 'on' ? 'sound' : 'mute'} /> {name}
    </button>
  );
}

/** Opens what it means and the words first: nobody should be listened to without knowing it. */
function VoiceControl() {
  const [isOpen, setOpen] = useState(false);
  const isOn = listening.value === 'on' || listening.value === 'away';
  return (
    <>
      <button type="button" class="follower" aria-pressed={isOn} onClick={() => setOpen(true)}><Icon name="microphone" /> {texts.listening.open}</button>
      {isOpen && <ListeningPanel onClose={() => setOpen(false)} />}
    </>
  );
}

function paint(widthPx: number, scale: SteadyRange): ReturnType<Painter> {
  const state = live.peek();
  const pageNow = performance.now() / 1000;
  const clock = serviceClock.read(pageNow);
  if (state === null || clock === null) return null;
  const series = traceOf(judgedMeter.peek());
  const shown = reading.peek();
  const to = Math.max(clock, shown?.at ?? 0);
  const from = to - traceWindow.peek();
  const line = traceLine(series, { from, to, columns: widthPx });
  const quantity = shown?.quantity ?? checkQuantity(state.check);
  const limits = quantity === checkQuantity(state.check) ? state.check.limits : NO_LIMITS;
  const range = scale.next(valueRange(line.extent, [limits.low, limits.high], leastSpan(shown?.resolution)), pageNow);
  return {
    picture: {
      line, from, to, range, limits, spotlight: null, cursor: null,
      timeMarks: agoMarks(to, traceWindow.peek(), widthPx),
      valueText: (value, step) => axisText(quantity, value, step, range.high),
      limitText: (value) => texts.trace.limit(limitText(quantity, value)),
      beyondText: texts.trace.beyond,
    },
    items: withSilence(laneItems(shownJudgement.peek(), state.marks, clock, texts.lane), shown?.at ?? null, clock, state.meters.find((m) => m.index === judgedMeter.peek())?.interval ?? null),
  };
}

const NO_LIMITS: Limits = { low: null, high: null };

function leastSpan(resolution: number | undefined): number {
  return resolution !== undefined && resolution > 0 ? 20 * resolution : 1e-3;
}

/** Fixed marks: seconds before now. */
function agoMarks(to: number, span: number, widthPx: number): { at: number; text: string }[] {
  const step = timeStep(span, Math.max(2, Math.floor(widthPx / 90)));
  const marks = [{ at: to, text: texts.trace.now }];
  for (let ago = step; ago < span * 0.97; ago += step) marks.unshift({ at: to - ago, text: `−${ago} s` });
  return marks;
}

/** The silence of now is a gap too, though nobody has judged it yet. */
function withSilence(items: LaneItem[], last: number | null, clock: number, interval: number | null): LaneItem[] {
  if (last === null || clock - last < Math.max(1.5, 3 * (interval ?? 0.5))) return items;
  return [...items, { kind: 'gap', row: 'gap', number: 0, from: last, to: clock, text: '' }];
}

function useDescription(): string {
  // Read out on demand only, so that once in two pulses is often enough.
  void pulse.value;
  const shown = reading.peek();
  const clock = serviceClock.read(performance.now() / 1000);
  if (shown === null || clock === null) return texts.trace.empty;
  const line = traceLine(traceOf(judgedMeter.peek()), { from: clock - traceWindow.value, to: clock, columns: 100 });
  if (line.extent === null) return texts.trace.empty;
  const text = (value: number) => readingText(shown.quantity, value, shown.resolution);
  return texts.trace.describe(`−${traceWindow.value} s`, texts.trace.now, text(line.extent.low), text(line.extent.high));
}

function useLaneDescription(): string {
  const j = shownJudgement.value;
  return `${texts.lane.label}: ${texts.lane.summary(
    j?.dropouts.length ?? 0, j?.sags.length ?? 0, j?.shifts.length ?? 0, j?.gaps.length ?? 0, live.value?.marks.length ?? 0)}`;
}
