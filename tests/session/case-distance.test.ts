import { describe, expect, it } from 'vitest';
import { alder7Chart } from '../../server/demo/index.ts';
import { distanceProblems, distanceShape, findDistance } from '../../server/session/case-distance.ts';

/** 5 m of 0.5 mm2: the wire that the definitions give figures for. Copper at 1/58 ohm mm2/m (IEC 60028): 0.1724 ohm. */
const chart = { ...alder7Chart, spans: alder7Chart.spans.map((span) => (span.id === 'C1/3 to C2/1' ? { ...span, length: 5, crossSection: 0.5 } : span)) };
const wire = 5 / 58 / 0.5;
const shown = (value: number, count: number) => ({ value: Math.round(value / count) * count, count });

describe('findDistance(chart, temperature, readings)', () => {
  it('finds a short from both ends by ohms, to about a metre with a 0.1 ohm display, and says what a finer meter gives', () => {
    const at = 1.2;
    const found = findDistance(chart, 20, { method: 'both-ends', span: 'C1/3 to C2/1', fromFirst: shown(0.5 + (wire * at) / 5, 0.01), fromSecond: shown(0.5 + (wire * (5 - at)) / 5, 0.01), endToEnd: shown(wire, 0.01) });
    expect(found.place!.low).toBeLessThanOrEqual(at);
    expect(found.place!.high).toBeGreaterThanOrEqual(at);
    expect(found.words).toMatch(/^\d\.\d m \+\/- 0\.\d m, from C1\/3 towards C2\/1\.$/);
    const coarse = findDistance(chart, 20, { method: 'both-ends', span: 'C1/3 to C2/1', fromFirst: shown(0.54, 0.1), fromSecond: shown(0.63, 0.1), endToEnd: null });
    // 0.1 ohm display: +/- 1 m or so, as worked out by simulation for this wire when the method was chosen.
    expect(2 * coarse.place!.uncertainty).toBeGreaterThan(0.8);
    expect(2 * coarse.place!.uncertainty).toBeLessThan(1.5);
    expect(coarse.words).toMatch(/with a 10 milliohm meter \+\/- 0\.\d/);
    expect(coarse.doubts.join()).toContain('measure the wire from end to end');
  });

  it('finds it to centimetres by a limited current, whose size cancels when the whole wire was read with it', () => {
    const at = 3.1;
    for (const amps of [0.8, 1.1]) {
      const found = findDistance(chart, 20, {
        method: 'current', span: 'C1/3 to C2/1', amps: shown(amps, 0.01), atFirst: shown(amps * (0.4 + (wire * at) / 5), 1e-4), atSecond: shown(amps * 0.4, 1e-4), endToEndVolts: shown(amps * wire, 1e-4),
      });
      expect(found.place!.distance).toBeCloseTo(at, 1);
      expect(2 * found.place!.uncertainty).toBeLessThan(0.03);
    }
  });

  it('names the span with too much resistance by its drops, from the figures printed with the scenario', () => {
    // 1.75 V and 0.04 V at about 5 A; 1.75 / 4.9 less 7.4 milliohm of wire and pin is 0.35 ohm.
    const found = findDistance(alder7Chart, 20, { method: 'drops', amps: shown(4.9, 0.1), drops: [{ span: 'S3 to C2/4', volts: shown(1.75, 0.001) }, { span: 'C1/6 to G2', volts: shown(0.03, 0.001) }] });
    expect(found).toMatchObject({ span: 'S3 to C2/4', place: null });
    expect(found.excess[0]!.excess).toBeCloseTo(0.35, 2);
    expect(found.basis).toContain('1 % of the current, and wires as charted within 7 % (');
    expect(findDistance(alder7Chart, 20, { method: 'drops', amps: shown(4.9, 0.1) }).words).toMatch(/^Read the drop along a span first/);
  });
});

describe('distanceProblems(chart, readings)', () => {
  it('names what is not on the chart, and readings that can not be', () => {
    const figure = { value: 0, count: 0.1 };
    expect(distanceProblems(alder7Chart, { method: 'both-ends', span: 'X', fromFirst: figure, fromSecond: figure, endToEnd: figure }).map(({ path }) => path)).toEqual(['distance.span', 'distance.endToEnd']);
    expect(distanceProblems(alder7Chart, { method: 'current', span: 'C1/3 to C2/1', amps: figure, atFirst: figure, atSecond: figure, endToEndVolts: null }).map(({ path }) => path)).toEqual(['distance.amps']);
    expect(distanceShape.safeParse({ method: 'drops', amps: { value: 1, count: 0 } }).success).toBe(false);
  });
});
