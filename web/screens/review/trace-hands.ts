/** Moving, zooming and reading a trace by wheel, drag, pinch, tap and keys. */
import type { RefObject } from 'preact';
import { useEffect, useRef } from 'preact/hooks';
import { AXIS_WIDTH_PX, EDGE_PX } from '../../plot/trace-plot.ts';
import { moveWindow, zoomWindow, type Window } from '../../trace/window.ts';

export interface TraceWishes {
  /** A time was pointed at, s. */
  onPoint(at: number): void;
  /** The cursor goes to the next sample, or the one before. */
  onCursor(by: 1 | -1): void;
  /** The next event, or the one before. */
  onStep(by: 1 | -1): void;
  onPlay(): void;
}

/** Moved less than this it was a tap, CSS pixels. */
const TAP_PX = 6;

export interface TraceHands {
  /** @param share of the view, positive to later times */
  move(share: number): void;
  /** Round the middle; below 1 goes closer. */
  zoom(factor: number): void;
  readonly handlers: Record<string, (event: never) => void>;
}

export function useTraceHands(plot: RefObject<HTMLElement>, view: Window, whole: Window, setView: (view: Window) => void, wishes: TraceWishes): TraceHands {
  // Handlers are made once and see the view of now.
  const now = useRef({ view, whole });
  now.current = { view, whole };
  const set = (next: Window): void => {
    now.current = { ...now.current, view: next };
    setView(next);
  };
  const fingers = useRef(new Map<number, number>());
  const pressedAt = useRef<number | null>(null);

  const timeAt = (clientX: number): number => {
    const { from, to } = now.current.view;
    return from + shareAt(plot.current!, clientX) * (to - from);
  };
  const move = (share: number): void => {
    const { view: v, whole: w } = now.current;
    set(moveWindow(v, w, share * (v.to - v.from)));
  };
  const zoomAt = (factor: number, at: number): void => set(zoomWindow(now.current.view, now.current.whole, factor, at));
  const zoom = (factor: number): void => zoomAt(factor, (now.current.view.from + now.current.view.to) / 2);

  useEffect(() => {
    const element = plot.current!;
    const onWheel = (event: WheelEvent): void => {
      event.preventDefault();
      if (Math.abs(event.deltaX) > Math.abs(event.deltaY)) move(event.deltaX / element.clientWidth);
      else zoomAt(1.0018 ** event.deltaY, timeAt(event.clientX));
    };
    // A listener that may stop the page from scrolling has to say so.
    element.addEventListener('wheel', onWheel, { passive: false });
    return () => element.removeEventListener('wheel', onWheel);
  }, []);

  const onPointerDown = (event: PointerEvent): void => {
    plot.current!.setPointerCapture(event.pointerId);
    fingers.current.set(event.pointerId, event.clientX);
    pressedAt.current = fingers.current.size === 1 ? event.clientX : null;
  };
  const onPointerMove = (event: PointerEvent): void => {
    const before = fingers.current.get(event.pointerId);
    if (before === undefined) return;
    if (pressedAt.current !== null && Math.abs(event.clientX - pressedAt.current) < TAP_PX) return;
    pressedAt.current = null;
    const others = [...fingers.current].filter(([id]) => id !== event.pointerId);
    fingers.current.set(event.pointerId, event.clientX);
    const other = others[0]?.[1];
    if (other === undefined) {
      move((before - event.clientX) / plotWidth(plot.current!));
    } else {
      const was = Math.max(20, Math.abs(before - other));
      const is = Math.max(20, Math.abs(event.clientX - other));
      zoomAt(was / is, timeAt((event.clientX + other) / 2));
    }
  };
  const onPointerEnd = (event: PointerEvent): void => {
    fingers.current.delete(event.pointerId);
    if (event.type === 'pointerup' && pressedAt.current !== null) wishes.onPoint(timeAt(event.clientX));
    pressedAt.current = null;
  };
  const onKeyDown = (event: KeyboardEvent): void => {
    const act: Record<string, () => void> = {
      ArrowLeft: () => move(-0.2), ArrowRight: () => move(0.2), PageUp: () => move(-0.9), PageDown: () => move(0.9),
      '+': () => zoom(0.6), '=': () => zoom(0.6), '-': () => zoom(1 / 0.6), Home: () => set(now.current.whole),
      '.': () => wishes.onStep(1), ',': () => wishes.onStep(-1), ' ': () => wishes.onPlay(),
    };
    const cursor: Record<string, () => void> = { ArrowLeft: () => wishes.onCursor(-1), ArrowRight: () => wishes.onCursor(1) };
    const chosen = (event.shiftKey ? cursor[event.key] : undefined) ?? act[event.key];
    if (chosen === undefined || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    chosen();
  };
  return {
    move, zoom,
    handlers: { onPointerDown, onPointerMove, onPointerUp: onPointerEnd, onPointerCancel: onPointerEnd, onKeyDown },
  };
}

function plotWidth(element: HTMLElement): number {
  return Math.max(1, element.clientWidth - AXIS_WIDTH_PX - EDGE_PX);
}

function shareAt(element: HTMLElement, clientX: number): number {
  const left = element.getBoundingClientRect().left + AXIS_WIDTH_PX;
  return Math.min(1, Math.max(0, (clientX - left) / plotWidth(element)));
}
