import { describe, expect, it } from 'vitest';
import { ALDER7_FAULTY_SPAN, alder7Chart, alder7Checks, alder7DefaultCheck, alder7FaultsAtRest, createDemo, simulatedSignal } from '../../server/demo/index.ts';
import { solveCircuit } from '../../server/diagnosis/circuit/index.ts';
import { circuitOf } from '../../server/session/chart-circuit.ts';
import { relationProblems } from '../../server/session/chart-validation.ts';
import { readingOf } from '../../server/session/check-reading.ts';
import type { Check } from '../../server/session/session.ts';

const circuit = circuitOf(alder7Chart);
const check = (id: string): Check => {
  const found = alder7Checks.find((own) => own.id === id);
  if (found === undefined) throw new Error(`no check ${id}: ${alder7Checks.map((own) => own.id).join(', ')}`);
  return found;
};

/** Figures printed with the scenario when it was written, worked out by hand-made nodal analysis outside this code. */
const printed: readonly (readonly [id: string, healthy: number, faulty: number, decimals: number])[] = [
  ['fuse F4', 0.034, 0.029, 3],
  ['supply CL+', 12.12, 12.17, 2],
  ['ground CL-', 0.22, 1.9, 2],
  ['drop S3 to C2/4', 0.04, 1.75, 2],
  ['continuity CL- to B-', 0.04, 0.39, 2],
];

describe('the demo circuit', () => {
  it('is a chart without contradictions', () => {
    expect(relationProblems(alder7Chart)).toEqual([]);
  });

  it.each(printed)('reads at "%s" %d healthy and %d with the bad crimp', (id, healthy, faulty, decimals) => {
    const at = check(id);
    expect(readingOf(alder7Chart, circuit, at).toFixed(decimals)).toBe(healthy.toFixed(decimals));
    expect(readingOf(alder7Chart, circuit, at, alder7FaultsAtRest('splice')).toFixed(decimals)).toBe(faulty.toFixed(decimals));
  });

  it('puts nearly the whole battery on CL- when the crimp opens', () => {
    const open = readingOf(alder7Chart, circuit, check('ground CL-'), [{ kind: 'open', at: ALDER7_FAULTY_SPAN }]);
    expect(open).toBeGreaterThan(12.4);
    expect(open).toBeLessThanOrEqual(12.5);
  });

  it('acquits the bad ground falsely when the clutch is unplugged and the lamp is off: 12.5 V either way', () => {
    const unloaded = { removed: ['CL', 'LP'], unplugged: [] };
    for (const fault of ['none', 'splice'] as const) {
      expect(solveCircuit(circuit, unloaded, alder7FaultsAtRest(fault)).volts('B+', 'CL-').toFixed(1)).toBe('12.5');
    }
  });

  it('passes every check of its list when healthy, and fails the ground and drop that hold the crimp', () => {
    const within = (at: Check, value: number): boolean => value >= (at.limits.low ?? -Infinity) && value <= (at.limits.high ?? Infinity);
    for (const at of alder7Checks) expect(within(at, readingOf(alder7Chart, circuit, at)), at.id).toBe(true);
    const failing = alder7Checks.filter((at) => !within(at, readingOf(alder7Chart, circuit, at, alder7FaultsAtRest('splice')))).map((at) => at.id);
    expect(failing).toEqual(['ground CL-', 'ground LP-', 'drop S3 to C2/4', 'continuity CL- to B-', 'continuity LP- to B-']);
  });
});

describe('simulatedSignal({ check, fault, seed })', () => {
  it('leaves the level exactly while the crimp is open, and only with a fault', () => {
    const signal = simulatedSignal({ check: alder7DefaultCheck, fault: 'splice', seed: 3 });
    const opens = signal.folding?.opensUntil(300) ?? [];
    expect(opens.length).toBeGreaterThan(30);
    for (const { start, end } of opens) {
      expect(end - start).toBeGreaterThanOrEqual(0.02);
      expect(end - start).toBeLessThanOrEqual(0.15);
      expect(signal.at((start + end) / 2)).toBeGreaterThan(12);
      expect(signal.at(start - 0.001)).toBeLessThan(2);
      expect(signal.at(end + 0.001)).toBeLessThan(2);
    }
    const sound = simulatedSignal({ check: alder7DefaultCheck, fault: 'none', seed: 3 });
    for (let time = 0; time < 300; time += 0.01) expect(sound.at(time)).toBeCloseTo(0.218, 2);
  });

  it('opens 4 to 9 s apart, at the same times for the same seed, and at others for another', () => {
    const opens = (seed: number) => simulatedSignal({ check: alder7DefaultCheck, fault: 'splice', seed }).folding?.opensUntil(1000) ?? [];
    const first = opens(1);
    first.slice(1).forEach((open, order) => {
      const pause = open.start - (first[order]?.end ?? 0);
      expect(pause).toBeGreaterThanOrEqual(4);
      expect(pause).toBeLessThanOrEqual(9);
    });
    expect(opens(1)).toEqual(first);
    expect(opens(2)).not.toEqual(first);
  });

  it('gives over-range on ohms while open, and a good level at rest with the crimp that only opens when folding', () => {
    const signal = simulatedSignal({ check: check('continuity CL- to B-'), fault: 'splice-flex', seed: 5 });
    expect(signal).toMatchObject({ quantity: 'resistance', coupling: 'none' });
    const open = signal.folding?.opensUntil(20)[0] ?? { start: 0, end: 0 };
    expect(signal.at(0)).toBeCloseTo(0.0416, 3);
    expect(signal.at((open.start + open.end) / 2)).toBe(Infinity);
  });
});

describe('createDemo(seed)', () => {
  it('follows the leads and the fault with one signal that the meter keeps', () => {
    const demo = createDemo();
    const { signal } = demo;
    expect(signal.at(0)).toBeCloseTo(1.9, 1);
    demo.setFault('none');
    expect(signal.at(0)).toBeCloseTo(0.218, 2);
    demo.choose(check('continuity CL- to B-'));
    expect(signal.quantity).toBe('resistance');
    expect(() => demo.setFault('gremlin')).toThrow(RangeError);
  });

  it('reads nothing on a place that the chart does not know', () => {
    const demo = createDemo();
    demo.choose({ ...alder7DefaultCheck, red: 'somewhere' });
    expect(demo.signal.at(1)).toBe(0);
  });
});
