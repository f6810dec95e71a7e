/** A trace with its lane of events under it, in one picture with a description for those who can't see it. */
import { useEffect, useRef } from 'preact/hooks';
import type { RefObject } from 'preact';
import { drawLane, LANE_ROW_PX, LEAST_SHAPE_PX } from '../plot/lane-canvas.ts';
import { DrawPacer } from '../plot/draw-pacer.ts';
import { onThemeChange, readPalette, type Palette } from '../plot/palette.ts';
import { AXIS_WIDTH_PX, EDGE_PX, TracePlot, type TracePicture } from '../plot/trace-plot.ts';
import { LANE_ROWS, laneShapes, type LaneItem } from '../trace/lane.ts';
import { texts } from '../texts.ts';

/** What to draw now; null leaves the picture as it is. */
export type Painter = (widthPx: number) => { readonly picture: TracePicture; readonly items: readonly LaneItem[] } | null;

interface Props {
  readonly description: string;
  readonly laneDescription: string;
  readonly painter: RefObject<Painter>;
  /** Draw with the frames of the screen; otherwise whenever `revision` changes. */
  readonly isLive: boolean;
  readonly revision?: unknown;
  readonly plotRef?: RefObject<HTMLDivElement>;
  readonly plotProps?: Record<string, unknown>;
}

/** With reduced motion the trace moves in steps. */
const CALM_STEP_MS = 500;

export function TraceFigure({ description, laneDescription, painter, isLive, revision, plotRef, plotProps }: Props) {
  const plotCanvas = useRef<HTMLCanvasElement>(null);
  const laneCanvas = useRef<HTMLCanvasElement>(null);
  const paint = useRef<() => void>(() => undefined);

  useEffect(() => {
    const canvas = plotCanvas.current!;
    let palette: Palette = readPalette(canvas);
    const plot = new TracePlot(canvas, palette);
    paint.current = () => {
      const widthPx = plot.widthPx();
      const next = painter.current?.(widthPx) ?? null;
      if (next === null) return;
      plot.draw(next.picture);
      drawLane(laneCanvas.current!, laneShapes(next.items, { from: next.picture.from, to: next.picture.to, widthPx }, LEAST_SHAPE_PX), palette);
    };
    const stopTheme = onThemeChange(() => {
      palette = readPalette(canvas);
      plot.setPalette(palette);
      paint.current();
    });
    const resize = new ResizeObserver(() => paint.current());
    resize.observe(canvas.parentElement!);
    return () => {
      stopTheme();
      resize.disconnect();
      plot.destroy();
      paint.current = () => undefined;
    };
  }, []);

  useEffect(() => {
    if (!isLive) {
      paint.current();
      return;
    }
    const calm = matchMedia('(prefers-reduced-motion: reduce)');
    let handle = 0;
    let last = 0;
    const pacer = new DrawPacer();
    const step = (now: number): void => {
      handle = requestAnimationFrame(step);
      const began = performance.now();
      if ((calm.matches && now - last < CALM_STEP_MS) || !pacer.isDue(began)) return;
      last = now;
      paint.current();
      pacer.drew(began, performance.now());
    };
    handle = requestAnimationFrame(step);
    return () => cancelAnimationFrame(handle);
  }, [isLive, revision]);

  return (
    <div class="trace-figure">
      <div class="trace-plot" ref={plotRef} {...plotProps}>
        <canvas ref={plotCanvas} role="img" aria-label={description} />
      </div>
      <div class="lane" style={{ '--axis': `${AXIS_WIDTH_PX}px`, '--edge': `${EDGE_PX}px`, '--lane-row': `${LANE_ROW_PX}px` }}>
        <div class="lane-names" aria-hidden="true">
          {LANE_ROWS.map((row) => <span key={row}>{texts.lane.rows[row]}</span>)}
        </div>
        <canvas ref={laneCanvas} role="img" aria-label={laneDescription} />
      </div>
    </div>
  );
}
