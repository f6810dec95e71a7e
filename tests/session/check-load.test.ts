import { describe, expect, it } from 'vitest';
import { alder7Chart, alder7Checks } from '../../server/demo/index.ts';
import { smallestVisibleSeriesOhms } from '../../server/diagnosis/visibility.ts';
import { readingOf } from '../../server/session/check-reading.ts';
import { circuitOf } from '../../server/session/chart-circuit.ts';
import { wayBetween } from '../../server/session/chart-paths.ts';

describe('the load of a check', () => {
  it('of the demo follows Ohm’s law: the clutch of 3.0 ohm with its wires, the lamp, both together', () => {
    const load = (id: string) => alder7Checks.find((check) => check.id === id)!.load!;
    // 12.5 V over the clutch current; its own wires and joints add little to 3.0 ohm, what it shares with the lamp makes it look larger.
    expect(load('supply CL+').ohms).toBeGreaterThan(3.0);
    expect(load('supply CL+').ohms).toBeLessThan(3.3);
    expect(load('drop G2 to B-').ohms).toBeLessThan(2.3);
    expect(load('drop G2 to B-').volts).toBe(12.5);
    expect(alder7Checks.find((check) => check.id === 'battery')!.load).toBeUndefined();
    expect(alder7Checks.filter(({ lamp }) => lamp).map(({ load }) => load!.ohms)).toEqual(alder7Checks.filter(({ lamp }) => lamp).map(() => 6.9));
  });

  it('tells the series resistance that would show: put into the circuit model, the reading moves by the threshold', () => {
    const circuit = circuitOf(alder7Chart);
    const threshold = 0.06;
    let tried = 0;
    for (const check of alder7Checks) {
      if (check.load === undefined || check.lamp === true) continue;
      const isSupply = check.kind === 'supply' || check.kind === 'switched-supply';
      const healthy = readingOf(alder7Chart, circuit, check);
      const ohms = smallestVisibleSeriesOhms(isSupply ? healthy : check.load.volts, threshold, check.load.ohms)!;
      const way = wayBetween(alder7Chart, isSupply ? 'B+' : check.red, isSupply ? check.red : check.black)!;
      const moves = way.map((part) => Math.abs(readingOf(alder7Chart, circuit, check, [{ kind: 'high-resistance', at: part.id, ohms }]) - healthy));
      tried++;
      // Nowhere along the way less than the threshold, and hardly more where the current is least.
      expect(Math.min(...moves) / threshold, check.id).toBeGreaterThan(0.9);
      expect(Math.min(...moves) / threshold, check.id).toBeLessThan(1.1);
    }
    expect(tried).toBeGreaterThan(10);
  });
});
