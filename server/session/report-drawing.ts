/**
 * A trace drawn for paper: a line through the lowest and highest reading of each column, so that a dropout of one sample is a stroke; a
 * triangle under each dropout, hatched where there was no data, limits dashed, over-range along the upper edge. Pure.
 */
import { figure } from './path-words.ts';
import type { ReportFigure } from './report.ts';

const WIDTH = 440;
const HEIGHT = 116;
const LEFT = 58;
const BOTTOM = 26;
/** Share of the range left free above and below. */
const MARGIN = 0.08;

export interface Drawing {
  readonly width: number;
  readonly height: number;
  /** SVG, of numbers only. */
  readonly shapes: string;
  readonly labels: readonly { readonly x: number; readonly y: number; readonly text: string; readonly anchor: 'start' | 'end' }[];
}

/** @param group  drawn on the same scale of values, itself among them @returns null when there is nothing to draw */
export function traceDrawing(own: ReportFigure, group: readonly ReportFigure[]): Drawing | null {
  const finite = group.flatMap(({ value, limits }) => [...Array.from(value), limits.low ?? NaN, limits.high ?? NaN]).filter(Number.isFinite);
  if (own.time.length === 0) return null;
  const [least, most] = finite.length === 0 ? [0, 0] : finite.reduce(([low, high], value) => [Math.min(low, value), Math.max(high, value)] as [number, number], [Infinity, -Infinity] as [number, number]);
  const margin = (most - least || Math.abs(most) || 1) * MARGIN;
  const [bottom, top] = [least - margin, most + margin];
  const floor = HEIGHT - BOTTOM;
  const x = (time: number): number => LEFT + ((WIDTH - LEFT - 1) * (time - own.start)) / (own.end - own.start || 1);
  const y = (value: number): number => floor * (1 - (value - bottom) / (top - bottom));
  const gaps = own.gaps.map(({ start, end }) => `<rect x="${number(x(start))}" y="0" width="${number(Math.max(1, x(end) - x(start)))}" height="${floor}" fill="#ccc"/>`).join('');
  const limits = [own.limits.low, own.limits.high].flatMap((limit) => (limit === null ? [] : [`<path d="M${LEFT} ${number(y(limit))}H${WIDTH}" stroke-dasharray="6 4" stroke="#111" fill="none"/>`])).join('');
  const dropouts = own.dropouts.map(({ start }) => `<path d="M${number(x(Math.max(start, own.start)))} ${floor + 2}l4 8h-8z" fill="#111"/>`).join('');
  const frame = `<rect x="${LEFT}" y="0.5" width="${WIDTH - LEFT - 0.5}" height="${floor - 0.5}" fill="none" stroke="#777"/>`;
  return {
    width: WIDTH, height: HEIGHT,
    shapes: `${gaps}${frame}<path d="${lineOf(own, x, y)}" stroke="#111" stroke-width="1.1" stroke-linejoin="round" stroke-linecap="square" fill="none"/>${limits}${dropouts}`,
    labels: [
      ...(finite.length === 0 ? [] : [label(least, y(least), own.unit)]),
      ...(most > least ? [label(most, y(most), own.unit)] : []),
      { x: LEFT, y: HEIGHT - 3, text: '0 s', anchor: 'start' },
      { x: WIDTH, y: HEIGHT - 3, text: `${figure(own.end - own.start)} s`, anchor: 'end' },
    ],
  };
}

function label(value: number, y: number, unit: string): Drawing['labels'][number] {
  return { x: LEFT - 4, y: Math.min(HEIGHT - BOTTOM, Math.max(10, y + 4)), text: `${figure(value)} ${unit}`, anchor: 'end' };
}

/** Broken where there is no data; over-range is drawn along the upper edge, joined to what it departed from. */
function lineOf({ time, value, isOverRange }: ReportFigure, x: (time: number) => number, y: (value: number) => number): string {
  let isDrawing = false;
  let path = '';
  for (let i = 0; i < time.length; i++) {
    const at = isOverRange[i] === true ? 1.5 : y(value[i] ?? NaN);
    if (!Number.isFinite(at)) {
      isDrawing = false;
      continue;
    }
    path += `${isDrawing ? 'L' : 'M'}${number(x(time[i] ?? 0))} ${number(at)}`;
    // A lone reading between two gaps still shows, by its square cap.
    if (!isDrawing) path += 'h0';
    isDrawing = true;
  }
  return path;
}

function number(value: number): string {
  return String(Math.round(value * 10) / 10);
}
