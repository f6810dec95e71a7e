import { describe, expect, it } from 'vitest';
import type { Circuit, CircuitPart } from '../../../server/diagnosis/circuit/index.ts';
import { METER_INPUT_OHMS, TEST_LAMP_COLD_OHMS, pickupVolts, solveCircuit } from '../../../server/diagnosis/circuit/index.ts';
import { Random } from '../../signals/random.ts';
import { SpiceDeck } from '../../support/ngspice.ts';

const SEED = Math.floor(Math.random() * 2 ** 31);
const span = (id: string, from: string, to: string, ohms: number): CircuitPart => ({ id, kind: 'span', from, to, ohms });

/** A wire that hangs in the air beside one that carries an alternating voltage. */
const circuit = (ohms: readonly number[], leak: number | null = null): Circuit => ({
  parts: [span('live', 'A', 'A2', ohms[0] ?? 1), span('open', 'W1', 'W2', ohms[1] ?? 1), { id: 'load', kind: 'load', from: 'A2', to: 'GND', ohms: ohms[2] ?? 1 }],
  leaks: leak === null ? [] : [{ a: 'W1', b: 'GND', ohms: leak }], connectors: {}, ground: 'GND', chassis: 'GND', supply: 'A',
});

describe('pickupVolts(solved, pickup, red, black, lamp)', () => {
  it('divides the voltage between capacitor and meter, and leaves nothing with a lamp', () => {
    const solved = solveCircuit(circuit([0.1, 0.1, 5]), { removed: [], unplugged: [] });
    const pickup = { from: 'A', to: 'W1', farads: 100e-12, volts: 12, hertz: 100 };
    // By hand: X = 1 / (2 pi 100 Hz 100 pF) = 15.9 Mohm; 12 V 10 / sqrt(10^2 + 15.9^2) = 6.39 V.
    expect(pickupVolts(solved, pickup, 'W2', 'GND')).toBeCloseTo((12 * 10) / Math.hypot(10, 15.9155), 1);
    expect(pickupVolts(solved, pickup, 'W2', 'GND', TEST_LAMP_COLD_OHMS)).toBeLessThan(1e-5);
  });

  it(`agrees with ngspice within 0.1 % or 1 microvolt on 100 random cases, seed ${SEED}`, () => {
    const random = new Random(SEED);
    for (const hertz of [50, 400, 20_000]) {
      const deck = new SpiceDeck();
      const own: { value: number; answer: number }[] = [];
      for (let order = 0; order < 35; order++) {
        const ohms = [random.logBetween(0.01, 1), random.logBetween(0.01, 10), random.logBetween(1, 100)];
        const leak = random.chance(0.5) ? random.logBetween(1e5, 1e8) : null;
        const pickup = { from: random.pick(['A', 'A2']), to: random.pick(['W1', 'W2']), farads: random.logBetween(1e-12, 1e-8), volts: random.between(0.1, 30), hertz };
        const lamp = random.chance(0.3) ? random.logBetween(0.5, 1000) : null;
        const at = (name: string): string => deck.node(order, name, 'GND');
        const joined: readonly (readonly [string, string, number])[] = [['A', 'A2', ohms[0] as number], ['W1', 'W2', ohms[1] as number], ['A2', 'GND', ohms[2] as number]];
        for (const [a, b, r] of joined) deck.resistor(at(a), at(b), r);
        if (leak !== null) deck.resistor(at('W1'), '0', leak);
        for (const name of ['A', 'A2', 'W1', 'W2']) deck.resistor(at(name), '0', 1e10);
        deck.source(at(pickup.from), '0', 0, pickup.volts);
        deck.capacitor(at(pickup.from), at(pickup.to), pickup.farads);
        deck.resistor(at('W2'), '0', METER_INPUT_OHMS);
        if (lamp !== null) deck.resistor(at('W2'), '0', lamp);
        own.push({ value: pickupVolts(solveCircuit(circuit(ohms, leak), { removed: [], unplugged: [] }), pickup, 'W2', 'GND', lamp), answer: deck.ask(at('W2'), '0') });
      }
      const answers = deck.solve(hertz);
      for (const { value, answer } of own) expect(Math.abs(value - (answers[answer] as number))).toBeLessThanOrEqual(Math.max(1e-6, 0.001 * (answers[answer] as number)));
    }
  });

  it('refuses a capacitance or a frequency of nothing', () => {
    const solved = solveCircuit(circuit([1, 1, 1]), { removed: [], unplugged: [] });
    expect(() => pickupVolts(solved, { from: 'A', to: 'W1', farads: 0, volts: 1, hertz: 50 }, 'W2', 'GND')).toThrow(RangeError);
    expect(() => pickupVolts(solved, { from: 'A', to: 'W1', farads: 1e-12, volts: 1, hertz: 0 }, 'W2', 'GND')).toThrow(RangeError);
  });
});
