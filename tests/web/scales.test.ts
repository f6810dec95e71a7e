import { describe, expect, it } from 'vitest';
import { roundStep, stepDecimals, SteadyRange, timeMarks, timeStep, valueRange } from '../../web/trace/scale.ts';
import { laneShapes, type LaneItem } from '../../web/trace/lane.ts';
import { moveWindow, windowRound, zoomWindow } from '../../web/trace/window.ts';
import { ServiceClock } from '../../web/live/service-clock.ts';

describe('valueRange(extent, limits, leastSpan)', () => {
  it('holds every value, with room', () => {
    const range = valueRange({ low: 0.2, high: 12.4 }, [], 0.02);
    expect(range.low).toBeLessThanOrEqual(0.2);
    expect(range.high).toBeGreaterThan(12.4);
  });

  it('shows a limit that is near and leaves out one that would flatten the trace', () => {
    expect(valueRange({ low: 0.2, high: 0.25 }, [null, 0.3], 0.02).high).toBeGreaterThanOrEqual(0.3);
    expect(valueRange({ low: 12.4, high: 12.5 }, [0.1, null], 0.02).low).toBeGreaterThan(11);
  });

  it('does not zoom into the noise of the last digit', () => {
    const { low, high } = valueRange({ low: 12.5, high: 12.501 }, [], 0.02);
    expect(high - low).toBeGreaterThanOrEqual(0.2);
  });

  it('has a range before there is a value', () => {
    const { low, high } = valueRange(null, [null, 0.5], 0.02);
    expect([low, high.toFixed(6)]).toEqual([0, '0.600000']);
  });
});

describe('SteadyRange', () => {
  it('grows at once, shrinks only after two seconds of too much room', () => {
    const range = new SteadyRange();
    expect(range.next({ low: 0, high: 1 }, 0)).toEqual({ low: 0, high: 1 });
    expect(range.next({ low: 0, high: 10 }, 1)).toEqual({ low: 0, high: 10 });
    expect(range.next({ low: 0, high: 1 }, 2)).toEqual({ low: 0, high: 10 });
    expect(range.next({ low: 0, high: 1 }, 3.9)).toEqual({ low: 0, high: 10 });
    expect(range.next({ low: 0, high: 1 }, 4.1)).toEqual({ low: 0, high: 1 });
  });
});

describe('marks of time', () => {
  it('steps are round on a clock', () => {
    expect([0.004, 0.7, 7, 45, 700, 5000].map((span) => timeStep(span, 5))).toEqual([0.001, 0.2, 2, 10, 300, 1800]);
  });

  it('roundStep(step) is 1, 2 or 5 times a power of ten, never below', () => {
    expect([0.011, 0.3, 1, 1.01, 60].map((step) => roundStep(step))).toEqual([0.02, 0.5, 1, 2, 100]);
  });

  it('stand at multiples of the step from where the take began', () => {
    expect(timeMarks(10.5, 13.2, 1, 0.2).map((at) => at.toFixed(1))).toEqual(['11.2', '12.2', '13.2']);
  });

  it('have the decimals that tell them apart', () => {
    expect([10, 1, 0.5, 0.1, 0.02, 0.001].map(stepDecimals)).toEqual([0, 0, 1, 1, 2, 3]);
  });
});

describe('the part of a take that is seen', () => {
  const whole = { from: 100, to: 200 };

  it('zooms round the time under the finger', () => {
    const { from, to } = zoomWindow({ from: 100, to: 200 }, whole, 0.5, 150);
    expect([from, to]).toEqual([125, 175]);
    const edge = zoomWindow({ from: 125, to: 175 }, whole, 0.5, 125);
    expect([edge.from, edge.to]).toEqual([125, 150]);
  });

  it('never leaves the take and never closes up', () => {
    expect(zoomWindow({ from: 120, to: 130 }, whole, 1000, 125)).toEqual(whole);
    expect(moveWindow({ from: 150, to: 160 }, whole, 1000)).toEqual({ from: 190, to: 200 });
    expect(moveWindow({ from: 150, to: 160 }, whole, -1000)).toEqual({ from: 100, to: 110 });
    const closest = zoomWindow({ from: 150, to: 150.002 }, whole, 1e-9, 150.001);
    expect(closest.to - closest.from).toBeCloseTo(0.001, 12);
  });

  it('goes to an event with room on either side, also at the ends of the take', () => {
    expect(windowRound({ from: 150, to: 150.1 }, whole, 4)).toEqual({ from: 148.05, to: 152.05 });
    expect(windowRound({ from: 100, to: 100.1 }, whole, 4)).toEqual({ from: 100, to: 104 });
  });
});

describe('the lane', () => {
  const item = (kind: LaneItem['kind'], from: number, to: number): LaneItem => ({ kind, row: kind === 'dropout' ? 'dropout' : 'gap', number: 1, from, to, text: '' });

  it('shows the shortest dropout as wide as a long one needs to be seen', () => {
    const [short] = laneShapes([item('dropout', 50, 50.001)], { from: 0, to: 100, widthPx: 1000 }, 12);
    expect(short!.width).toBe(12);
    expect(short!.x + short!.width / 2).toBeCloseTo(500, 1);
  });

  it('draws a short dropout whole at the very start and end of the view, and leaves a mark at its moment', () => {
    const view = { from: 50, to: 100, widthPx: 500 };
    const ends = [item('dropout', 50, 50.01), item('dropout', 99.99, 100)];
    expect(laneShapes(ends, view, 12).map(({ x, width }) => [x, x + width])).toEqual([[0, 12], [488, 500]]);
    // One that goes on beyond the view is cut there.
    expect(laneShapes([item('dropout', 40, 60)], view, 12)[0]).toMatchObject({ x: -100, width: 200 });
    const [mark] = laneShapes([item('mark', 50, 50)], view, 12);
    expect(mark!.x + mark!.width / 2).toBe(0);
  });

  it('leaves out what is not in view', () => {
    expect(laneShapes([item('gap', 0, 5), item('gap', 200, 300)], { from: 10, to: 20, widthPx: 100 }, 12)).toEqual([]);
  });
});

describe('ServiceClock', () => {
  it('believes the message that came quickest', () => {
    const clock = new ServiceClock();
    expect(clock.read(0)).toBe(null);
    clock.hear(10, 100.4);
    clock.hear(11, 101.01);
    clock.hear(12, 102.3);
    expect(clock.read(103)).toBeCloseTo(12.99, 1);
  });

  it('starts over with a new session', () => {
    const clock = new ServiceClock();
    clock.hear(1000, 0);
    clock.hear(0, 1);
    expect(clock.read(2)).toBe(1);
  });
});
