/** Where the drawing has its points and wires, CSS pixels. Pure. */
import type { PlacedLink, PlacedPoint } from '../../chart/layout.ts';
import type { Spot } from '../../chart/wire-way.ts';

/** Between columns and rows. */
export const COLUMN = 104;
export const ROW = 136;
export const MARGIN = { left: 40, top: 52 };

export function x(placed: PlacedPoint): number {
  return MARGIN.left + placed.column * COLUMN;
}

export function y(placed: PlacedPoint): number {
  return MARGIN.top + placed.row * ROW;
}

/** Along the row of the beginning, then over to the row of the end, just before it. */
export function wayOf({ from, to }: PlacedLink): Spot[] {
  const [start, end] = [{ x: x(from), y: y(from) }, { x: x(to), y: y(to) }];
  if (start.y === end.y) return [start, end];
  const bend = x(to) - 26;
  return [start, { x: bend, y: start.y }, { x: bend, y: end.y }, end];
}
