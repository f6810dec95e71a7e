/** The trace on a canvas: chart.js for axes, grid and line; limits and stretches beyond range drawn by our own plugin. */
import { Chart, LinearScale, LineController, LineElement, PointElement, type ChartConfiguration, type Plugin } from 'chart.js';
import type { Limits } from '../../server/diagnosis/judgement.ts';
import type { TraceLine } from '../trace/columns.ts';
import type { Range } from '../trace/scale.ts';
import type { Palette } from './palette.ts';

Chart.register(LinearScale, LineController, LineElement, PointElement);

export interface TracePicture {
  readonly line: TraceLine;
  readonly from: number;
  readonly to: number;
  readonly range: Range;
  readonly limits: Limits;
  readonly timeMarks: readonly { readonly at: number; readonly text: string }[];
  readonly valueText: (value: number, step: number) => string;
  readonly limitText: (value: number) => string;
  readonly beyondText: string;
  /** Stretches to be pointed out, such as the dropout that was gone to. */
  readonly spotlight: { readonly from: number; readonly to: number } | null;
  /** Time that is being read or played. */
  readonly cursor: number | null;
}

/** Width left of the plotting area, CSS pixels; the lane below lines up with it. */
export const AXIS_WIDTH_PX = 64;
/** Room right of the plotting area. */
export const EDGE_PX = 8;

export class TracePlot {
  readonly #chart: Chart<'line', { x: number; y: number }[]>;
  #palette: Palette;
  #picture: TracePicture | null = null;

  constructor(canvas: HTMLCanvasElement, palette: Palette) {
    this.#palette = palette;
    this.#chart = new Chart(canvas, this.#config());
  }

  /** Width of the plotting area, CSS pixels. */
  widthPx(): number {
    const area = this.#chart.chartArea as Chart['chartArea'] | undefined;
    return Math.max(1, Math.round(area === undefined ? this.#chart.width - AXIS_WIDTH_PX - EDGE_PX : area.right - area.left));
  }

  draw(picture: TracePicture): void {
    this.#picture = picture;
    const { x, y } = this.#chart.options.scales!;
    x!.min = picture.from;
    x!.max = picture.to;
    y!.min = picture.range.low;
    y!.max = picture.range.high;
    this.#chart.data.datasets[0]!.data = picture.line.points;
    this.#chart.update('none');
  }

  setPalette(palette: Palette): void {
    this.#palette = palette;
    this.#chart.data.datasets[0]!.borderColor = palette.trace;
    for (const scale of Object.values(this.#chart.options.scales!)) {
      scale!.grid!.color = palette.grid;
      scale!.ticks!.color = palette.quiet;
    }
    this.#chart.update('none');
  }

  destroy(): void {
    this.#chart.destroy();
  }

  #config(): ChartConfiguration<'line', { x: number; y: number }[]> {
    const { grid, quiet, trace, font } = this.#palette;
    return {
      type: 'line',
      data: { datasets: [{ data: [], borderColor: trace, borderWidth: 2, borderJoinStyle: 'round', pointRadius: 0, spanGaps: false }] },
      options: {
        animation: false, parsing: false, normalized: true, responsive: true, maintainAspectRatio: false, events: [],
        layout: { padding: { right: EDGE_PX, top: 10 } },
        scales: {
          x: {
            type: 'linear', grid: { color: grid }, border: { display: false },
            afterBuildTicks: (scale) => {
              scale.ticks = (this.#picture?.timeMarks ?? []).map(({ at }) => ({ value: at }));
            },
            ticks: {
              color: quiet, font: { family: font, size: 13 }, maxRotation: 0, autoSkip: false, align: 'inner',
              callback: (_value, index) => this.#picture?.timeMarks[index]?.text ?? '',
            },
          },
          y: {
            type: 'linear', grid: { color: grid }, border: { display: false },
            afterFit: (scale) => {
              scale.width = AXIS_WIDTH_PX;
            },
            ticks: {
              color: quiet, font: { family: font, size: 13 }, maxTicksLimit: 6, includeBounds: false,
              callback: (value, _index, ticks) => {
                const step = ticks.length > 1 ? ticks[1]!.value - ticks[0]!.value : 1;
                return this.#picture?.valueText(Number(value), step) ?? '';
              },
            },
          },
        },
      },
      plugins: [this.#under(), this.#over()],
    };
  }

  /** Limits and spotlight, under the line; what the limits are is written over it. */
  #under(): Plugin<'line'> {
    return {
      id: 'under',
      beforeDatasetsDraw: (chart) => {
        const picture = this.#picture;
        if (picture === null) return;
        const { ctx, chartArea: area, scales } = chart;
        ctx.save();
        ctx.beginPath();
        ctx.rect(area.left, area.top, area.right - area.left, area.bottom - area.top);
        ctx.clip();
        if (picture.spotlight !== null) {
          const left = scales.x!.getPixelForValue(picture.spotlight.from);
          const right = scales.x!.getPixelForValue(picture.spotlight.to);
          ctx.globalAlpha = 0.3;
          ctx.fillStyle = this.#palette.abnormal;
          ctx.fillRect(left - 4, area.top, right - left + 8, area.bottom - area.top);
        }
        const low = picture.limits.low === null ? area.bottom : scales.y!.getPixelForValue(picture.limits.low);
        const high = picture.limits.high === null ? area.top : scales.y!.getPixelForValue(picture.limits.high);
        if (picture.limits.low !== null || picture.limits.high !== null) {
          ctx.globalAlpha = 0.09;
          ctx.fillStyle = this.#palette.normal;
          ctx.fillRect(area.left, high, area.right - area.left, low - high);
        }
        ctx.globalAlpha = 1;
        ctx.strokeStyle = this.#palette.normal;
        ctx.lineWidth = 1.5;
        ctx.setLineDash([2, 5]);
        for (const value of [picture.limits.low, picture.limits.high]) {
          if (value === null) continue;
          const at = scales.y!.getPixelForValue(value);
          ctx.beginPath();
          ctx.moveTo(area.left, at);
          ctx.lineTo(area.right, at);
          ctx.stroke();
        }
        ctx.restore();
      },
    };
  }

  /** Names the limits, each on its own line; where the trace would run through the words, right beside it, best outside, or further along. */
  #limitLabels(chart: Chart<'line'>, picture: TracePicture): void {
    const { ctx, chartArea: area, scales } = chart;
    ctx.save();
    ctx.fillStyle = this.#palette.normal;
    ctx.font = `600 13px ${this.#palette.font}`;
    for (const [value, outside, inside] of [[picture.limits.low, 18, -8], [picture.limits.high, -8, 18]] as const) {
      if (value === null) continue;
      const at = scales.y!.getPixelForValue(value);
      const text = picture.limitText(value);
      const { width } = ctx.measureText(text);
      const heights = [at + 5, at + outside, at + inside].filter((y) => y > area.top + 8 && y < area.bottom + 4);
      const room = area.right - area.left - width - 16;
      const steps = Math.max(1, Math.floor(room / (width + 16)));
      const places = Array.from({ length: steps + 1 }, (_, i) => area.left + 8 + (i * room) / steps).flatMap((x) => heights.map((y) => ({ x, y })));
      const place = places.find(({ x, y }) => !this.#isCrossed(chart, x, x + width, y)) ?? places[0];
      if (place !== undefined) this.#label(ctx, text, place.x, place.y);
    }
    ctx.restore();
  }

  /** Whether the line runs through a text whose base line is at `y`. */
  #isCrossed(chart: Chart<'line'>, left: number, right: number, y: number): boolean {
    const { x: time, y: value } = chart.scales;
    const from = time!.getValueForPixel(left)!;
    const to = time!.getValueForPixel(right)!;
    const high = value!.getValueForPixel(y - 14)!;
    const low = value!.getValueForPixel(y + 4)!;
    const { points } = this.#picture!.line;
    return points.some((point, i) => {
      const next = points[i + 1] ?? point;
      return next.x >= from && point.x <= to && Math.max(point.y, next.y) > low && Math.min(point.y, next.y) < high;
    });
  }

  /** Text on a patch of its own, so that neither grid nor line makes it hard to read; a line under it still shows through a little. */
  #label(ctx: CanvasRenderingContext2D, text: string, x: number, y: number): void {
    const { width } = ctx.measureText(text);
    const ink = ctx.fillStyle;
    ctx.fillStyle = this.#palette.surface;
    ctx.globalAlpha = 0.9;
    ctx.fillRect(x - 4, y - 12, width + 8, 16);
    ctx.globalAlpha = 1;
    ctx.fillStyle = ink;
    ctx.fillText(text, x, y);
  }

  /** Over the line: the limits by name, stretches beyond the meter's range at the upper edge, the cursor. */
  #over(): Plugin<'line'> {
    return {
      id: 'over',
      afterDatasetsDraw: (chart) => {
        const picture = this.#picture;
        if (picture === null) return;
        const { ctx, chartArea: area, scales } = chart;
        this.#limitLabels(chart, picture);
        ctx.save();
        ctx.fillStyle = ctx.strokeStyle = this.#palette.trace;
        ctx.font = `600 13px ${this.#palette.font}`;
        for (const stretch of picture.line.beyond) {
          const left = Math.max(area.left, scales.x!.getPixelForValue(stretch.from));
          const right = Math.min(area.right, Math.max(scales.x!.getPixelForValue(stretch.to), left + 2));
          if (right <= area.left || left >= area.right) continue;
          ctx.fillRect(left, area.top, right - left, 5);
          ctx.globalAlpha = 0.16;
          ctx.fillRect(left, area.top + 5, right - left, area.bottom - area.top - 5);
          ctx.globalAlpha = 1;
          if (right - left > 110) ctx.fillText(picture.beyondText, left + 6, area.top + 20);
        }
        if (picture.cursor !== null && picture.cursor >= picture.from && picture.cursor <= picture.to) {
          const at = scales.x!.getPixelForValue(picture.cursor);
          ctx.fillStyle = this.#palette.ink;
          ctx.fillRect(at - 0.75, area.top, 1.5, area.bottom - area.top);
        }
        ctx.restore();
      },
    };
  }
}
