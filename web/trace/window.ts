/** The part of a take that is seen: moved and zoomed, never beyond the take. Pure. */

export interface Window { readonly from: number; readonly to: number }

/** Never closer than this, s. */
const CLOSEST = 1e-3;

/**
 * @param factor below 1 goes closer, above 1 wider
 * @param at the time that stays where it is on the screen, s
 */
export function zoomWindow(window: Window, whole: Window, factor: number, at: number): Window {
  const span = window.to - window.from;
  const wanted = Math.min(Math.max(span * factor, CLOSEST), Math.max(whole.to - whole.from, CLOSEST));
  const share = (at - window.from) / span;
  return keepInside({ from: at - share * wanted, to: at + (1 - share) * wanted }, whole);
}

/** @param by s, positive to later times */
export function moveWindow(window: Window, whole: Window, by: number): Window {
  return keepInside({ from: window.from + by, to: window.to + by }, whole);
}

/** A window round an event, wide enough to see what was before and after. */
export function windowRound(event: Window, whole: Window, leastSpan: number): Window {
  const middle = (event.from + event.to) / 2;
  const half = Math.max((event.to - event.from) * 3, leastSpan) / 2;
  return keepInside({ from: middle - half, to: middle + half }, whole);
}

function keepInside({ from, to }: Window, whole: Window): Window {
  const span = to - from;
  if (span >= whole.to - whole.from) return whole;
  if (from < whole.from) return { from: whole.from, to: whole.from + span };
  if (to > whole.to) return { from: whole.to - span, to: whole.to };
  return { from, to };
}
