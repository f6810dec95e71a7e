import { describe, expect, it } from 'vitest';
import { alder7Chart, alder7Checks } from '../../server/demo/index.ts';
import { CHECK_KINDS } from '../../server/diagnosis/judgement.ts';
import type { Chart } from '../../server/session/chart.ts';
import { checksFor } from '../../server/session/checks.ts';
import { defaultLimits } from '../../server/session/limits.ts';

const circuit = 'clutch and lamp';
const find = (id: string) => alder7Checks.find((check) => check.id === id);

describe('checksFor(chart, circuit)', () => {
  it('takes what can be read as found before anything is unplugged', () => {
    const isAsFound = alder7Checks.map((check) => (check.arrangement?.removed.length ?? 0) === 0);
    const battery = 1;
    expect(isAsFound.slice(battery).lastIndexOf(true)).toBeLessThan(isAsFound.slice(battery).indexOf(false));
  });

  it('has every check that a careful technician makes on a power circuit', () => {
    const kinds = new Set(alder7Checks.map((check) => check.kind));
    for (const kind of ['supply', 'fuse', 'switched-supply', 'ground', 'voltage-drop', 'short-to-ground', 'short-to-supply', 'continuity'] as const) expect(kinds).toContain(kind);
  });

  it('says of each which lead goes where, the state, how the meter is set, and what healthy reads and why', () => {
    for (const check of alder7Checks) {
      expect(alder7Chart.points.map((point) => point.id)).toEqual(expect.arrayContaining([check.red, check.black]));
      expect(check.condition, check.id).not.toBe('');
      expect(check.instructions.join(' '), check.id).toMatch(/Meter on (DC volts|ohms)/);
      expect(check.healthy?.why, check.id).not.toBe('');
      expect(check.limitsBasis, check.id).toContain('common practice');
      expect(check.limits.low ?? check.limits.high, check.id).not.toBeNull();
    }
    expect(new Set(alder7Checks.map((check) => check.id)).size).toBe(alder7Checks.length);
  });

  it('lets the limit follow the path and the current, and says how', () => {
    // By hand: 0.9/(58 1.5) + 3.1/(58 2.5) + 0.8/(58 16) + 0.009 = 0.0416 ohm; 0.22 V and the allowance of 0.1 V.
    expect(find('ground CL-')?.limits).toEqual({ low: null, high: 0.32 });
    expect(find('ground CL-')?.limitsBasis).toBe(
      '0.9 m of 1.5 mm², 3.1 m of 2.5 mm² and 0.8 m of 16 mm² at 20 °C and four joints: 0.042 ohm; at the 3.97 to 5.67 A that flow, 0.22 V; allowed 0.32 V (common practice: model plus 0.1 V, at most 0.5 V)',
    );
  });

  it('doubles the volts for 24 V systems', () => {
    const heavy: Chart = { ...alder7Chart, systemVoltage: 24, components: alder7Chart.components.map((part) => (part.kind === 'battery' ? { ...part, volts: 25.2 } : part)) };
    expect(checksFor(heavy, circuit).find((check) => check.id === 'battery')?.limits.low).toBe(24.4);
    expect(checksFor(heavy, circuit).find((check) => check.id === 'supply CL+')?.limits.low).toBe(24.2);
  });

  it('never offers a point of a restraint system', () => {
    const guarded: Chart = { ...alder7Chart, points: alder7Chart.points.map((point) => (point.id === 'CL-' ? { ...point, restraint: true } : point)) };
    const touching = checksFor(guarded, circuit).filter((check) => check.red === 'CL-' || check.black === 'CL-');
    expect(touching).toEqual([]);
    expect(checksFor(guarded, circuit).length).toBeGreaterThan(10);
  });

  it('checks against each other two stretches that run side by side', () => {
    const twin: Chart = { ...alder7Chart, spans: alder7Chart.spans.map((span) => (span.id === 'F4/2 to K1/30' ? { ...span, route: 'frame rail, left' } : span)) };
    expect(checksFor(twin, circuit).filter((check) => check.kind === 'short-between').map((check) => [check.red, check.black])).toEqual([['F4/2', 'K1/87']]);
  });

  it('refuses a circuit that the chart does not have', () => {
    expect(() => checksFor(alder7Chart, 'gone')).toThrow(RangeError);
  });
});

describe('defaultLimits(kind, systemVoltage)', () => {
  it('names every limit as common practice', () => {
    for (const kind of CHECK_KINDS) {
      const { limits, basis } = defaultLimits(kind, 12);
      if (limits.low !== null || limits.high !== null) expect(basis, kind).toMatch(/^common practice: /);
    }
  });

  it('does not condemn a good ground path with the limit of a single joint', () => {
    expect(defaultLimits('ground', 12).limits.high).toBe(0.5);
    expect(defaultLimits('ground', 24).limits.high).toBe(1);
  });
});
