import { describe, expect, it } from 'vitest';
import { Flag } from '../../drivers/reading.ts';
import type { SampleFrame } from '../../server/live/sample-frame.ts';
import { traceLine, type Series } from '../../web/trace/columns.ts';
import { DrawPacer } from '../../web/plot/draw-pacer.ts';
import { TraceBuffer } from '../../web/trace/trace-buffer.ts';
import { Random } from '../signals/random.ts';

const seed = Date.now() % 1_000_000;

function frameOf(time: ArrayLike<number>, value: ArrayLike<number>, flags?: ArrayLike<number>, bits: Partial<SampleFrame> = {}): SampleFrame {
  return {
    length: time.length, time: Float64Array.from(time), value: Float64Array.from(value), resolution: new Float64Array(time.length).fill(0.001),
    flags: Uint16Array.from(flags ?? new Uint16Array(time.length)), functionCode: new Uint8Array(time.length),
    meter: 0, take: 1, firstSeq: 1, reduced: false, replace: false, ...bits,
  };
}

function seriesOf(frame: SampleFrame, interval: number | null = null): Series {
  const buffer = new TraceBuffer(Math.max(1, frame.length));
  buffer.append(frame, interval);
  return buffer;
}

/** Pieces of line between the breaks. */
function pieces(points: readonly { x: number; y: number }[]): number {
  return points.filter((point, i) => !Number.isNaN(point.y) && (i === 0 || Number.isNaN(points[i - 1]!.y))).length;
}

// The case on which common reductions for charts lost dropouts: 100,000 quiet points, of them 40 one-sample spikes, at 500 columns.
describe('a long series at 500 columns', () => {
  const random = new Random(seed);
  const n = 100_000;
  const value = Array.from({ length: n }, () => 12.5 + random.gauss() * 0.002);
  const spikes = Array.from({ length: 40 }, (_, i) => 1200 + i * 2400 + random.integer(0, 500));
  for (const at of spikes) value[at] = random.chance(0.5) ? 0 : 25;
  const time = Array.from({ length: n }, (_, i) => (i < 50_000 ? i : i + 500) * 0.01);
  const line = traceLine(seriesOf(frameOf(time, value), 0.01), { from: time[0]!, to: time[n - 1]!, columns: 500 });

  it(`keeps every one-sample spike, at its own time (seed ${seed})`, () => {
    for (const at of spikes) expect(line.points).toContainEqual({ x: time[at], y: value[at] });
  });

  it('keeps a gap of 500 samples as a break, and only that', () => {
    expect(pieces(line.points)).toBe(2);
  });

  it('costs what the screen is wide, not what the series is long', () => {
    expect(line.points.length).toBeLessThanOrEqual(4 * 500 + 10);
  });
});

describe('traceLine(series, view)', () => {
  it(`has, in every column, the extremes of its samples (random series, seed ${seed})`, () => {
    const random = new Random(seed + 1);
    for (let run = 0; run < 60; run++) {
      const n = random.integer(1, 400);
      let at = 0;
      const time = Array.from({ length: n }, () => (at += random.chance(0.05) ? 1 : 0.1));
      const flags = time.map(() => (random.chance(0.1) ? Flag.overRange : random.chance(0.05) ? Flag.blank : 0));
      const value = flags.map((bits) => (bits !== 0 ? NaN : random.gauss()));
      const columns = random.integer(1, 50);
      const view = { from: time[0]!, to: time[n - 1]! + 0.01, columns };
      const { points, extent } = traceLine(seriesOf(frameOf(time, value, flags), 0.1), view);
      const drawn = new Set(points.map((p) => p.y));
      const width = (view.to - view.from) / columns;
      // The obvious way, column by column.
      for (let column = 0; column < columns; column++) {
        const here = value.filter((v, i) => !Number.isNaN(v) && Math.floor((time[i]! - view.from) / width) === column);
        if (here.length === 0) continue;
        expect(drawn.has(Math.min(...here))).toBe(true);
        expect(drawn.has(Math.max(...here))).toBe(true);
      }
      const all = value.filter((v) => !Number.isNaN(v));
      expect(extent).toEqual(all.length === 0 ? null : { low: Math.min(...all), high: Math.max(...all) });
      expect(points.every((p, i) => i === 0 || p.x >= points[i - 1]!.x)).toBe(true);
    }
  });

  it('never joins the line over a missing sample, a blank display or a stretch beyond range', () => {
    const missing = traceLine(seriesOf(frameOf([0, 0.1, 0.2, 0.5, 0.6, 0.7], [1, 1, 1, 1, 1, 1]), 0.1), { from: 0, to: 1, columns: 100 });
    expect(pieces(missing.points)).toBe(2);
    const blank = traceLine(seriesOf(frameOf([0, 0.1, 0.2, 0.3], [1, NaN, 1, 1], [0, Flag.blank, 0, 0]), 0.1), { from: 0, to: 1, columns: 100 });
    expect(pieces(blank.points)).toBe(2);
    const beyond = traceLine(seriesOf(frameOf([0, 0.1, 0.2, 0.3, 0.4], [1, NaN, NaN, 1, 1], [0, 1, 1, 0, 0]), 0.1), { from: 0, to: 1, columns: 100 });
    expect(pieces(beyond.points)).toBe(2);
    expect(beyond.beyond).toEqual([{ from: 0, to: 0.2 }]);
  });

  it('draws a sample that stands alone', () => {
    const { points } = traceLine(seriesOf(frameOf([0, 1, 2], [5, 6, 7]), 0.1), { from: 0, to: 2, columns: 100 });
    for (const y of [5, 6, 7]) expect(points.filter((p) => p.y === y)).toHaveLength(2);
  });

  it('costs no more than the width of the screen when every other sample is beyond range', () => {
    const time = Array.from({ length: 50_000 }, (_, i) => i * 0.001);
    const flags = time.map((_, i) => (i % 2 === 0 ? Flag.overRange : 0));
    const { points, beyond } = traceLine(seriesOf(frameOf(time, time.map(() => 1), flags), 0.001), { from: 0, to: 50, columns: 400 });
    expect(points.length).toBeLessThanOrEqual(16 * 400);
    expect(beyond.length).toBeLessThanOrEqual(400);
    expect(points.length).toBeGreaterThan(400);
  });

  it('does nothing with nothing', () => {
    expect(traceLine(new TraceBuffer(4), { from: 0, to: 1, columns: 10 })).toEqual({ points: [], beyond: [], extent: null });
  });
});

describe('TraceBuffer', () => {
  it('forgets at the front and keeps the newest', () => {
    const buffer = new TraceBuffer(100);
    for (let i = 0; i < 1000; i++) buffer.append(frameOf([i], [i]), 1);
    expect(buffer.length).toBeGreaterThanOrEqual(100);
    expect(Array.from(buffer.time.subarray(buffer.length - 100, buffer.length))).toEqual(Array.from({ length: 100 }, (_, i) => 900 + i));
  });

  it('starts afresh with an overview, and leaves out what overlaps', () => {
    const buffer = new TraceBuffer(100);
    buffer.append(frameOf([0, 1, 2], [0, 1, 2]), 1);
    buffer.append(frameOf([10, 11, 12], [0, 1, 2], undefined, { replace: true }), 1);
    buffer.append(frameOf([11, 12, 13], [9, 9, 3]), 1);
    expect(Array.from(buffer.value.subarray(0, buffer.length))).toEqual([0, 1, 2, 3]);
  });

  it('does not take the uneven spacing of a reduced frame for gaps', () => {
    const time = [0, 0.019, 0.02, 0.021, 0.05, 0.06, 0.07, 0.09];
    const { points } = traceLine(seriesOf(frameOf(time, time.map(() => 1), undefined, { reduced: true }), 0.001), { from: 0, to: 0.1, columns: 100 });
    expect(pieces(points)).toBe(1);
  });
});

describe('DrawPacer', () => {
  /** Pictures a second. @param costMs  of a picture, in the page @param paintMs  of painting it, by which the next frame is late */
  const drawn = (costMs: number, paintMs = 0): number => {
    const pacer = new DrawPacer();
    let count = 0;
    let now = 0;
    while (now < 6_000) {
      const isDrawn = pacer.isDue(now);
      if (isDrawn) {
        count++;
        pacer.drew(now, now + costMs);
      }
      now += Math.max(1000 / 60, isDrawn ? costMs + paintMs : 0);
    }
    return count / 6;
  };

  it('draws with every frame while drawing is cheap', () => {
    expect(drawn(2)).toBeCloseTo(60, 0);
    expect(drawn(3, 8)).toBeCloseTo(60, 0);
  });

  it('leaves the page most of its time where drawing or painting is not cheap, and still shows a picture now and then', () => {
    expect(drawn(25) * 25).toBeLessThan(400);
    expect(drawn(25)).toBeGreaterThan(8);
    expect(drawn(3, 60) * 63).toBeLessThan(450);
    expect(drawn(3, 60)).toBeGreaterThan(4);
    expect(drawn(1000)).toBeGreaterThan(0.5);
  });
});
