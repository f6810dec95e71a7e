import { describe, expect, it } from 'vitest';
import type { Circuit, CircuitPart } from '../../../server/diagnosis/circuit/index.ts';
import { AS_FOUND, METER_INPUT_OHMS, solveCircuit } from '../../../server/diagnosis/circuit/index.ts';

const part = (id: string, kind: CircuitPart['kind'], from: string, to: string, ohms: number, more: Partial<CircuitPart> = {}): CircuitPart => ({ id, kind, from, to, ohms, ...more });

/** Battery, one wire to a lamp, one wire back, and a neighbour that is always live. */
const lampCircuit = (more: Partial<Circuit> = {}): Circuit => ({
  parts: [
    part('battery', 'battery', 'B+', 'B-', 0.01, { volts: 12 }), part('feed', 'span', 'B+', 'L+', 0.1), part('lamp', 'load', 'L+', 'L-', 6.9, { coldOhms: 0.69 }),
    part('return', 'span', 'L-', 'B-', 0.1), part('neighbour', 'span', 'B+', 'N', 0.1),
  ],
  leaks: [], connectors: {}, ground: 'B-', chassis: 'B-', supply: 'B+', ...more,
});

// Expected values here are Ohm's law by hand.
describe('what a meter reads', () => {
  it('shows full voltage through a bad joint of kilohms when nothing draws current, and nearly none with a lamp', () => {
    const solved = solveCircuit(lampCircuit(), { removed: ['lamp'], unplugged: [] }, [{ kind: 'high-resistance', at: 'feed', ohms: 5000 }]);
    expect(solved.volts('L+', 'B-')).toBeCloseTo(12 * (1e7 / (1e7 + 5000)), 2);
    expect(solved.voltsWithLamp('L+', 'B-')).toBeCloseTo((12 * 0.69) / (0.69 + 5000.11), 5);
  });

  it('shows a ghost voltage on an open wire that damp joins to a live neighbour, and takes it away with a lamp', () => {
    const damp = lampCircuit({ leaks: [{ a: 'L+', b: 'N', ohms: 2e6 }] });
    const solved = solveCircuit(damp, { removed: ['lamp'], unplugged: [] }, [{ kind: 'open', at: 'feed' }]);
    // 12 V over 2 Mohm into the 10 Mohm of the meter: 10 V.
    expect(solved.volts('L+', 'B-')).toBeCloseTo(12 * (METER_INPUT_OHMS / (METER_INPUT_OHMS + 2e6)), 1);
    expect(solved.voltsWithLamp('L+', 'B-')).toBeLessThan(1e-4);
  });

  it('reads over-range on ohms across an open, and a cold lamp at a tenth of its hot resistance', () => {
    const dead = { removed: ['battery'], unplugged: [] };
    expect(solveCircuit(lampCircuit(), dead).ohms('L+', 'L-')).toBeCloseTo(0.69, 2);
    expect(solveCircuit(lampCircuit(), dead, [{ kind: 'open', at: 'return' }]).ohms('L-', 'B-')).toBe(Infinity);
  });

  it('gives a false figure on ohms in a live circuit', () => {
    // Truly 6.9 ohm beside 0.21 ohm; the 11.6 V across the lamp adds 11.6 V / 1 mA.
    expect(solveCircuit(lampCircuit(), AS_FOUND).ohms('L+', 'L-')).toBeGreaterThan(10_000);
  });

  it('leaves a lamp cold behind a bad joint that starves it, lit behind a small one', () => {
    const starved = solveCircuit(lampCircuit(), AS_FOUND, [{ kind: 'high-resistance', at: 'return', ohms: 100 }]);
    expect(starved.volts('L+', 'L-')).toBeCloseTo((12 * 0.69) / (0.69 + 100.21), 3);
    const lit = solveCircuit(lampCircuit(), AS_FOUND, [{ kind: 'high-resistance', at: 'return', ohms: 1 }]);
    expect(lit.volts('L+', 'L-')).toBeCloseTo((12 * 6.9) / (6.9 + 1.21), 3);
  });

  it('parts the spans on both sides of a connector that is pulled apart', () => {
    const circuit = lampCircuit({ connectors: { 'L+': 'X1' } });
    const solved = solveCircuit(circuit, { removed: [], unplugged: ['X1'] });
    expect(solved.volts('L+:in', 'B-')).toBeCloseTo(12, 2);
    expect(solved.volts('L+:out', 'B-')).toBeCloseTo(0, 6);
    expect(() => solved.volts('L+', 'B-')).toThrow(RangeError);
  });

  it('gives what the battery delivers and what each part carries', () => {
    const solved = solveCircuit(lampCircuit(), AS_FOUND);
    const amps = 12 / (0.01 + 0.1 + 6.9 + 0.1);
    for (const id of ['battery', 'feed', 'lamp', 'return']) expect(solved.current(id)).toBeCloseTo(amps, 6);
    expect(solved.current('neighbour')).toBeCloseTo(0, 6);
  });

  it('places a short along the wire', () => {
    const at = (position: number) => solveCircuit(lampCircuit(), { removed: ['battery', 'lamp'], unplugged: [] }, [{ kind: 'short-to-ground', at: 'feed', ohms: 0.001, position }]);
    expect(at(0.25).ohms('B+', 'B-')).toBeCloseTo(0.026, 6);
    expect(at(0.25).ohms('L+', 'B-')).toBeCloseTo(0.076, 6);
  });

  it('refuses a fault in a part that is not there, and a short between without another part', () => {
    expect(() => solveCircuit(lampCircuit(), AS_FOUND, [{ kind: 'open', at: 'gone' }])).toThrow(RangeError);
    expect(() => solveCircuit(lampCircuit(), AS_FOUND, [{ kind: 'short-between', at: 'feed', ohms: 1 }])).toThrow(RangeError);
  });
});
