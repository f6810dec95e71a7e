/** One recorded trace: a take of one meter over the part that is seen, with its events in the lane. */
import type { RefObject } from 'preact';
import { useRef } from 'preact/hooks';
import type { Limits } from '../../../server/diagnosis/judgement.ts';
import type { TakeSummary } from '../../../server/session/session.ts';
import { axisText } from '../../figures/axis-text.ts';
import { checkQuantity, judgedQuantity } from '../../check-words.ts';
import { limitText, readingText } from '../../figures/reading-text.ts';
import { clockText } from '../../figures/time-text.ts';
import { TraceFigure, type Painter } from '../../parts/trace-figure.tsx';
import { texts } from '../../texts.ts';
import { traceLine } from '../../trace/columns.ts';
import type { LaneItem } from '../../trace/lane.ts';
import { joined, stepDecimals, timeMarks, timeStep, valueRange, type Range } from '../../trace/scale.ts';
import type { Window } from '../../trace/window.ts';
import type { LoadedTrace } from './trace-loader.ts';

const NO_LIMITS: Limits = { low: null, high: null };

interface Props {
  readonly take: TakeSummary;
  readonly trace: LoadedTrace;
  readonly view: Window;
  readonly items: readonly LaneItem[];
  readonly spotlight: Window | null;
  /** Session clock, s. */
  readonly cursor: number | null;
  /** Values that the scale must hold too: those of a trace that it is compared with. */
  readonly within?: Range | null;
  /** What it is called, when there are several on the screen. */
  readonly title?: string;
  readonly plotRef?: RefObject<HTMLDivElement>;
  readonly plotProps?: Record<string, unknown>;
}

export function TakeTrace({ take, trace, view, items, spotlight, cursor, within = null, title, plotRef, plotProps }: Props) {
  const quantity = judgedQuantity(take.judgement, take.check);
  const { samples } = trace;
  const painter = useRef<Painter>(() => null);
  painter.current = (widthPx) => {
    const line = traceLine(samples, { ...view, columns: widthPx });
    const limits = quantity === checkQuantity(take.check) ? take.check.limits : NO_LIMITS;
    const resolution = take.judgement.resolution ?? 0;
    const range = valueRange(joined(line.extent, within), [limits.low, limits.high], resolution > 0 ? 20 * resolution : 1e-3);
    const step = timeStep(view.to - view.from, Math.max(2, Math.floor(widthPx / 100)));
    return {
      items,
      picture: {
        line, ...view, range, limits, spotlight, cursor,
        timeMarks: timeMarks(view.from, view.to, step, take.start).map((at) => ({ at, text: clockText(at - take.start, stepDecimals(step)) })),
        valueText: (value, valueStep) => axisText(quantity, value, valueStep, range.high),
        limitText: (value) => texts.trace.limit(limitText(quantity, value)),
        beyondText: texts.trace.beyond,
      },
    };
  };
  const { extent } = traceLine(samples, { ...view, columns: 200 });
  const value = (v: number) => readingText(quantity, v, take.judgement.resolution);
  const clock = (at: number) => clockText(at - take.start, 1);
  const description = extent === null ? texts.trace.empty : texts.trace.describe(clock(view.from), clock(view.to), value(extent.low), value(extent.high));
  const counts = (kind: LaneItem['kind']) => items.filter((item) => item.kind === kind).length;
  return (
    <>
      {title !== undefined && <h3 class="trace-title">{title}</h3>}
      <TraceFigure isLive={false} painter={painter} revision={[samples, view, spotlight, cursor, within]} plotRef={plotRef} plotProps={plotProps} description={description}
        laneDescription={`${texts.lane.label}: ${texts.lane.summary(counts('dropout'), counts('sag'), counts('shift'), counts('gap'), counts('mark'))}`} />
      {trace.trouble !== '' && <p class="form-error" role="alert">{texts.review.failed(trace.trouble)}</p>}
    </>
  );
}
