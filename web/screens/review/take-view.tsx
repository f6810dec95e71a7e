/** One recorded take: verdict, trace that is moved, zoomed and played, and its events, each a click away. */
import { useMemo, useRef, useState } from 'preact/hooks';
import { Flag } from '../../../drivers/reading.ts';
import type { MeterRecord, SessionContents, TakeSummary } from '../../../server/session/session.ts';
import { checkSentence, judgedQuantity } from '../../check-words.ts';
import { readingText } from '../../figures/reading-text.ts';
import { clockText } from '../../figures/time-text.ts';
import { Icon } from '../../parts/glyphs.tsx';
import { VerdictPanel } from '../../parts/verdict-panel.tsx';
import { texts } from '../../texts.ts';
import { firstFrom, type Series } from '../../trace/columns.ts';
import { laneItems, type LaneItem } from '../../trace/lane.ts';
import { windowRound, type Window } from '../../trace/window.ts';
import { CompareChoice, type Compared } from './compare-choice.tsx';
import { Comparison, titleOf } from './comparison.tsx';
import { EventList, filteredEvents, type EventFilter } from './event-list.tsx';
import { JudgedAgain } from './judged-again.tsx';
import { Notes } from './notes.tsx';
import { PlayAsMeter } from './play-as-meter.tsx';
import { RoadFindings } from './road-findings.tsx';
import { ZoneFindings } from './zone-findings.tsx';
import { SPEEDS, usePlayback } from './playback.ts';
import { TakeTrace } from './take-trace.tsx';
import { useTraceHands } from './trace-hands.ts';
import { useTrace } from './trace-loader.ts';

const t = texts.review;

interface Props {
  readonly session: string;
  readonly take: TakeSummary;
  /** Of the session. */
  readonly contents: SessionContents;
}

export function TakeView({ session, take, contents }: Props) {
  const { meters, marks, losses } = contents;
  const end = take.end ?? take.start + take.judgement.elapsed;
  const whole: Window = { from: take.start, to: Math.max(end, take.start + 1e-3) };
  const [view, setView] = useState<Window>(whole);
  const [filter, setFilter] = useState<EventFilter>('all');
  const [chosen, setChosen] = useState<LaneItem | null>(null);
  const [cursor, setCursor] = useState<number | null>(null);
  const [compared, setCompared] = useState<Compared | null>(null);
  const cursorNow = useRef(cursor);
  cursorNow.current = cursor;
  const plot = useRef<HTMLDivElement>(null);
  const items = useMemo(() => laneItems(take.judgement, marks.filter((mark) => mark.take === take.id), end, texts.lane), [take, marks]);
  const events = filteredEvents(items, filter);
  const trace = useTrace(session, take.id, take.meter, take.judgement.interval, view);
  const playback = usePlayback({ take, samples: trace.samples, view, whole, cursor, setView, setCursor });

  /** Puts the cursor there; what plays goes on from there. */
  const point = (at: number): void => {
    setCursor(at);
    playback.seek(at);
  };
  const goTo = (event: LaneItem): void => {
    setChosen(event);
    point(event.from);
    setView(windowRound({ from: event.from, to: event.to }, whole, 20 * (take.judgement.interval ?? 0.5)));
  };
  const goToPlace = (at: number): void => {
    point(at);
    setView(windowRound({ from: at, to: at }, whole, 20 * (take.judgement.interval ?? 0.5)));
  };
  const step = (by: 1 | -1): void => {
    const at = chosen === null ? -1 : events.indexOf(chosen);
    const next = events[at < 0 ? (by === 1 ? 0 : events.length - 1) : (at + by + events.length) % events.length];
    if (next !== undefined) goTo(next);
  };
  const hands = useTraceHands(plot, view, whole, setView, {
    onPoint: point, onStep: step, onPlay: playback.toggle,
    onCursor: (by) => {
      // Keys may come faster than the screen is drawn: each goes on from where the last one led.
      cursorNow.current = neighbour(trace.samples, cursorNow.current ?? view.from, by);
      setCursor(cursorNow.current);
    },
  });

  return (
    <article class="take">
      <header>
        <h2>{texts.take.number(take.id)} · {texts.check.kinds[take.check.kind]}</h2>
        <p>{checkSentence(take.check)}</p>
        {losses.filter(({ from, to }) => to >= take.start && from <= end).map(({ firstSeq, samples, from, to }) => (
          <div key={firstSeq} class="caution is-warning" role="note"><Icon name="caution" /><p>{t.loss(samples, clockText(from - take.start, 1), clockText(to - take.start, 1))}</p></div>
        ))}
      </header>
      <div class="take-main">
        <RoadFindings session={session} take={take} />
        <ZoneFindings take={take} marks={marks} />
        <section class="trace" aria-label={texts.trace.label}>
          <TakeTrace take={take} trace={trace} view={view} items={items} cursor={cursor} spotlight={chosen} plotRef={plot}
            title={compared === null ? undefined : titleOf(take)}
            plotProps={{ ...hands.handlers, tabIndex: 0, role: 'group', 'aria-label': t.view, 'aria-description': t.help, class: 'trace-plot is-movable' }} />
          {meters.filter((meter) => meter.index !== take.meter).map((meter) => (
            <OtherMeter key={meter.index} session={session} take={take} meter={meter} view={view} cursor={cursor} />
          ))}
          {compared !== null && <Comparison take={take} compared={compared} view={view} />}
          <div class="trace-buttons" role="group" aria-label={t.view}>
            <button type="button" onClick={() => hands.move(-0.5)}><Icon name="left" /><span class="sr-only">{t.left}</span></button>
            <button type="button" onClick={() => hands.zoom(0.5)}><Icon name="closer" /><span class="sr-only">{t.zoomIn}</span></button>
            <button type="button" onClick={() => hands.zoom(2)}><Icon name="wider" /><span class="sr-only">{t.zoomOut}</span></button>
            <button type="button" onClick={() => hands.move(0.5)}><Icon name="right" /><span class="sr-only">{t.right}</span></button>
            <button type="button" onClick={() => setView(whole)}>{t.whole}</button>
            <button type="button" aria-pressed={playback.isPlaying} onClick={playback.toggle}>
              <Icon name={playback.isPlaying ? 'stop' : 'play'} /> {playback.isPlaying ? t.pause : t.play}
            </button>
            <label class="inline">{t.speed}
              <select value={playback.speed} onChange={(e) => playback.setSpeed(Number(e.currentTarget.value))}>
                {SPEEDS.map((speed) => <option key={speed} value={speed}>{t.times(speed)}</option>)}
              </select>
            </label>
            <CompareChoice session={session} take={take} contents={contents} onChoose={setCompared} />
          </div>
          <p class="trace-foot">
            <output class="view-text">{t.viewText(clockText(view.from - take.start, 1), clockText(view.to - take.start, 1))}</output>
            {trace.isLoading && <span>{t.loadingTrace}</span>}
            <output class="cursor-text" aria-live="off">{cursor === null ? '' : cursorText(take, trace.samples, cursor)}</output>
          </p>
          <details class="help"><summary>{t.helpTitle}</summary><p class="hint">{t.help}</p></details>
          <PlayAsMeter session={session} take={take.id} />
        </section>
        <EventList take={take} events={events} filter={filter} onFilter={setFilter} chosen={chosen} onChoose={goTo} onStep={step} />
        <Notes session={session} take={take} cursor={cursor} onGoTo={goToPlace} />
      </div>
      <JudgedAgain session={session} take={take} />
      <VerdictPanel judgement={take.judgement} check={take.check} watching={take.watching} stage={texts.watching.names[take.watching]} origin={take.start} />
    </article>
  );
}

/** A second meter of the same take, over the same time: a reference beside it. */
function OtherMeter({ session, take, meter, view, cursor }: { session: string; take: TakeSummary; meter: MeterRecord; view: Window; cursor: number | null }) {
  const trace = useTrace(session, take.id, meter.index, meter.interval, view);
  return <TakeTrace take={take} trace={trace} view={view} items={[]} spotlight={null} cursor={cursor} title={meter.label} />;
}

function cursorText(take: TakeSummary, samples: Series, cursor: number): string {
  const at = Math.max(0, firstFrom(samples.time, samples.length, cursor + 1e-9) - 1);
  if (samples.length === 0 || samples.time[at]! > cursor + 1e-9) return clockText(cursor - take.start, 3);
  const flags = samples.flags[at]!;
  const value = (flags & Flag.overRange) !== 0 ? texts.reading.beyond
    : (flags & Flag.blank) !== 0 ? texts.reading.blank
    : readingText(judgedQuantity(take.judgement, take.check), samples.value[at]!, take.judgement.resolution);
  return t.cursor(clockText(cursor - take.start, 3), value);
}

/** Time of the sample after or before a time; the time itself where none is loaded. */
function neighbour(samples: Series, at: number, by: 1 | -1): number {
  const next = firstFrom(samples.time, samples.length, by === 1 ? at + 1e-9 : at - 1e-9);
  const found = by === 1 ? next : next - 1;
  return found >= 0 && found < samples.length ? samples.time[found]! : at;
}
