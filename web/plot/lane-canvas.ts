/** Draws the lane: every kind of event has its own row and its own shape, so that colour never carries the meaning alone. */
import { LANE_ROWS, type LaneShape } from '../trace/lane.ts';
import type { Palette } from './palette.ts';

export const LANE_ROW_PX = 22;
export const LEAST_SHAPE_PX = 12;
const FLAG_PX = 9;

export function drawLane(canvas: HTMLCanvasElement, shapes: readonly LaneShape[], palette: Palette): void {
  const ratio = devicePixelRatio || 1;
  const width = canvas.clientWidth;
  const height = LANE_ROWS.length * LANE_ROW_PX;
  if (canvas.width !== Math.round(width * ratio) || canvas.height !== Math.round(height * ratio)) {
    canvas.width = Math.round(width * ratio);
    canvas.height = Math.round(height * ratio);
  }
  const ctx = canvas.getContext('2d')!;
  ctx.setTransform(ratio, 0, 0, ratio, 0, 0);
  ctx.clearRect(0, 0, width, height);
  LANE_ROWS.forEach((row, i) => {
    const middle = (i + 0.5) * LANE_ROW_PX;
    ctx.strokeStyle = palette.grid;
    ctx.lineWidth = 1;
    line(ctx, [[0, middle], [width, middle]]);
    for (const shape of shapes) if (shape.row === row) drawShape(ctx, shape, { middle, width }, palette);
  });
}

function drawShape(ctx: CanvasRenderingContext2D, shape: LaneShape, lane: { readonly middle: number; readonly width: number }, palette: Palette): void {
  const { x, width } = shape;
  const { middle } = lane;
  const top = middle - 8;
  const bottom = middle + 8;
  ctx.lineWidth = 1.5;
  ctx.strokeStyle = palette.ink;
  switch (shape.kind) {
    case 'dropout':
      // A notch: the line breaks and falls.
      ctx.fillStyle = palette.abnormal;
      area(ctx, [[x, top], [x + width, top], [x + width / 2 + Math.max(0, width / 2 - 6), bottom], [x + Math.min(6, width / 2), bottom]]);
      return;
    case 'sag':
      ctx.lineWidth = 2;
      line(ctx, [[x, top + 3], [x + 3, bottom - 3], [x + width - 3, bottom - 3], [x + width, top + 3]]);
      return;
    case 'shift':
      ctx.lineWidth = 2.5;
      line(ctx, [[x, top + 2], [x + width / 2, top + 2], [x + width / 2, bottom - 2], [x + width, bottom - 2]]);
      return;
    case 'gap':
      ctx.fillStyle = palette.surface;
      area(ctx, [[x, top + 2], [x + width, top + 2], [x + width, bottom - 2], [x, bottom - 2]]);
      ctx.save();
      ctx.beginPath();
      ctx.rect(x, top + 2, width, 12);
      ctx.clip();
      ctx.lineWidth = 1;
      for (let at = x - 12; at < x + width; at += 5) line(ctx, [[at, bottom - 2], [at + 12, top + 2]]);
      ctx.restore();
      return;
    case 'zone':
      ctx.strokeStyle = palette.quiet;
      ctx.fillStyle = palette.surface;
      area(ctx, [[x, top + 1], [x + width, top + 1], [x + width, bottom - 1], [x, bottom - 1]]);
      ctx.save();
      ctx.beginPath();
      ctx.rect(x, top, width, 16);
      ctx.clip();
      ctx.fillStyle = palette.ink;
      ctx.font = `12px ${palette.font}`;
      ctx.fillText(shape.text, Math.max(x, 0) + 4, middle + 4);
      ctx.restore();
      return;
    case 'mark': {
      const pole = x + width / 2;
      // The flag flies to the side that has room for it.
      const tip = pole + FLAG_PX > lane.width ? pole - FLAG_PX : pole + FLAG_PX;
      ctx.fillStyle = palette.ink;
      line(ctx, [[pole, top], [pole, bottom]]);
      area(ctx, [[pole, top], [tip, top + 4], [pole, top + 8]]);
    }
  }
}

type Place = readonly [x: number, y: number];

function path(ctx: CanvasRenderingContext2D, places: readonly Place[]): void {
  ctx.beginPath();
  places.forEach(([x, y], i) => (i === 0 ? ctx.moveTo(x, y) : ctx.lineTo(x, y)));
}

function line(ctx: CanvasRenderingContext2D, places: readonly Place[]): void {
  path(ctx, places);
  ctx.stroke();
}

function area(ctx: CanvasRenderingContext2D, places: readonly Place[]): void {
  path(ctx, places);
  ctx.closePath();
  ctx.fill();
  ctx.stroke();
}
