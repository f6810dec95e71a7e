/** One recorded take: verdict, trace that is moved and zoomed, and its dropouts, each a click away. */
import { useEffect, useRef, useState } from 'preact/hooks';
import type { Limits } from '../../../server/diagnosis/judgement.ts';
import type { SampleFrame } from '../../../server/live/sample-frame.ts';
import type { MarkRecord, TakeSummary } from '../../../server/session/session.ts';
import { checkQuantity, checkSentence, judgedQuantity } from '../../check-words.ts';
import { readingText, roundText } from '../../figures/reading-text.ts';
import { clockText } from '../../figures/time-text.ts';
import { DropoutList } from '../../parts/dropout-list.tsx';
import { Icon } from '../../parts/glyphs.tsx';
import { TraceFigure, type Painter } from '../../parts/trace-figure.tsx';
import { VerdictPanel } from '../../parts/verdict-panel.tsx';
import { texts } from '../../texts.ts';
import { traceLine } from '../../trace/columns.ts';
import { laneItems } from '../../trace/lane.ts';
import { stepDecimals, timeMarks, timeStep, valueRange } from '../../trace/scale.ts';
import { TraceBuffer } from '../../trace/trace-buffer.ts';
import { windowRound, type Window } from '../../trace/window.ts';
import { axisText } from '../watch/live-trace.tsx';
import { fetchTrace } from './recordings.ts';
import { useTraceHands } from './trace-hands.ts';

const t = texts.review;
const NO_LIMITS: Limits = { low: null, high: null };

interface Props { readonly session: string; readonly take: TakeSummary; readonly marks: readonly MarkRecord[] }

export function TakeView({ session, take, marks }: Props) {
  const end = take.end ?? take.start + take.judgement.elapsed;
  const whole: Window = { from: take.start, to: Math.max(end, take.start + 1e-3) };
  const [view, setView] = useState<Window>(whole);
  const [chosen, setChosen] = useState<number | null>(null);
  const { frame, trouble, isLoading } = useTrace(session, take, view);
  const plot = useRef<HTMLDivElement>(null);
  const hands = useTraceHands(plot, view, whole, setView);
  const quantity = judgedQuantity(take.judgement, take.check);
  const items = laneItems(take.judgement, marks);
  const spot = chosen === null ? null : take.judgement.dropouts[chosen]!;

  const painter = useRef<Painter>(() => null);
  painter.current = (widthPx) => {
    const line = traceLine(frame, { ...view, columns: widthPx });
    const limits = quantity === checkQuantity(take.check) ? take.check.limits : NO_LIMITS;
    const resolution = take.judgement.resolution ?? 0;
    const range = valueRange(line.extent, [limits.low, limits.high], resolution > 0 ? 20 * resolution : 1e-3);
    const step = timeStep(view.to - view.from, Math.max(2, Math.floor(widthPx / 100)));
    return {
      items,
      picture: {
        line, ...view, range, limits,
        spotlight: spot === null ? null : { from: spot.start, to: spot.end },
        timeMarks: timeMarks(view.from, view.to, step, take.start).map((at) => ({ at, text: clockText(at - take.start, stepDecimals(step)) })),
        valueText: (value, valueStep) => axisText(quantity, value, valueStep, range.high),
        limitText: (value) => texts.trace.limit(roundText(quantity, value)),
        beyondText: texts.trace.beyond,
      },
    };
  };

  const goTo = (index: number): void => {
    const dropout = take.judgement.dropouts[index]!;
    const interval = take.judgement.interval ?? 0.5;
    setChosen(index);
    setView(windowRound({ from: dropout.start, to: dropout.end }, whole, 20 * interval));
    plot.current?.scrollIntoView({ block: 'nearest' });
  };
  const shownText = t.viewText(clockText(view.from - take.start, 1), clockText(view.to - take.start, 1));
  const { extent } = traceLine(frame, { ...view, columns: 200 });
  const value = (v: number) => readingText(quantity, v, take.judgement.resolution);
  const description = extent === null ? texts.trace.empty
    : texts.trace.describe(clockText(view.from - take.start, 1), clockText(view.to - take.start, 1), value(extent.low), value(extent.high));

  return (
    <article class="take">
      <header>
        <h2>{texts.take.number(take.id)} · {texts.check.kinds[take.check.kind]}</h2>
        <p>{checkSentence(take.check)}</p>
      </header>
      <VerdictPanel judgement={take.judgement} check={take.check} stage={texts.watching.names[take.watching]} />
      <section class="trace" aria-label={texts.trace.label}>
        <TraceFigure isLive={false} painter={painter} revision={[frame, view, chosen]} plotRef={plot} description={`${description}. ${t.help}`}
          laneDescription={`${texts.lane.label}: ${texts.lane.summary(take.judgement.dropouts.length, take.judgement.sags.length, take.judgement.shifts.length, take.judgement.gaps.length, marks.length)}`}
          plotProps={{ ...hands.handlers, tabIndex: 0, role: 'group', 'aria-label': t.view, 'aria-description': t.help, class: 'trace-plot is-movable' }} />
        <div class="trace-buttons" role="group" aria-label={t.view}>
          <button type="button" onClick={() => hands.move(-0.5)}><Icon name="left" /><span class="sr-only">{t.left}</span></button>
          <button type="button" onClick={() => hands.zoom(0.5)}><Icon name="closer" /><span class="sr-only">{t.zoomIn}</span></button>
          <button type="button" onClick={() => hands.zoom(2)}><Icon name="wider" /><span class="sr-only">{t.zoomOut}</span></button>
          <button type="button" onClick={() => hands.move(0.5)}><Icon name="right" /><span class="sr-only">{t.right}</span></button>
          <button type="button" onClick={() => setView(whole)}>{t.whole}</button>
          <output class="view-text">{isLoading ? t.loadingTrace : shownText}</output>
        </div>
        {trouble !== '' && <p class="form-error" role="alert">{t.failed(trouble)}</p>}
        <p class="hint">{t.help}</p>
      </section>
      <section class="take-dropouts" aria-label={texts.dropouts.title}>
        <h3>{texts.dropouts.title}</h3>
        <DropoutList judgement={take.judgement} quantity={quantity} origin={take.start} emptyText={texts.dropouts.noneEver} chosen={chosen} onChoose={goTo} />
      </section>
    </article>
  );
}

/** The samples of the part that is seen; the last ones stay on the screen until the new ones are here. */
function useTrace(session: string, take: TakeSummary, view: Window): { frame: TraceBuffer; trouble: string; isLoading: boolean } {
  const [loaded, setLoaded] = useState<{ frame: TraceBuffer; trouble: string }>({ frame: new TraceBuffer(1), trouble: '' });
  const [isLoading, setLoading] = useState(true);
  useEffect(() => {
    const abort = new AbortController();
    // Wheel and fingers change the view many times a second: only where they rest is fetched.
    const timer = setTimeout(() => {
      setLoading(true);
      const margin = (view.to - view.from) / 2;
      const wanted = { session, take: take.id, meter: take.meter, from: view.from - margin, to: view.to + margin, columns: 4000 };
      void fetchTrace(wanted, abort.signal).then((result) => {
        if (abort.signal.aborted || result.state === 'loading') return;
        setLoading(false);
        if (result.state === 'loaded') setLoaded({ frame: buffered(result.value, take.judgement.interval), trouble: '' });
        else setLoaded((before) => ({ ...before, trouble: result.why }));
      });
    }, 60);
    return () => {
      clearTimeout(timer);
      abort.abort();
    };
  }, [session, take, view.from, view.to]);
  return { ...loaded, isLoading };
}

function buffered(frame: SampleFrame, interval: number | null): TraceBuffer {
  const buffer = new TraceBuffer(Math.max(1, frame.length));
  buffer.append(frame, interval);
  return buffer;
}
