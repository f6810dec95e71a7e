import { describe, expect, it } from 'vitest';
import type { Circuit, Fault } from '../../../server/diagnosis/circuit/index.ts';
import { AS_FOUND, blownFuses, METER_OHMS_CURRENT, SHORTEST_OHMS, solveCircuit } from '../../../server/diagnosis/circuit/index.ts';
import { FaultSolver } from '../../../server/diagnosis/locate/faulted.ts';
import { circuitOf } from '../../../server/session/chart-circuit.ts';
import { usualArrangement } from '../../../server/session/check-function.ts';
import { Random } from '../../signals/random.ts';
import { randomChart } from '../../support/random-chart.ts';

const SEED = Math.floor(Math.random() * 2 ** 31);

/** Anywhere along a wire, but so far from its ends that the full solution rounds neither piece up. */
function placeAlong(random: Random, circuit: Circuit, span: string): number {
  const part = circuit.parts.find(({ id }) => id === span);
  const wire = (part?.ohms ?? 0) - (part?.fromJointOhms ?? 0) - (part?.toJointOhms ?? 0);
  const margin = Math.min(0.5, SHORTEST_OHMS / wire);
  return Math.min(1 - margin, Math.max(margin, random.uniform()));
}

function randomFault(random: Random, circuit: Circuit, parts: readonly string[], spans: readonly string[]): Fault {
  const kind = random.pick(['open', 'high-resistance', 'short-to-ground', 'short-to-supply', 'short-between'] as const);
  const at = kind === 'open' || kind === 'high-resistance' ? random.pick(parts) : random.pick(spans);
  if (kind === 'open') return { kind, at };
  if (kind === 'high-resistance') return { kind, at, ohms: random.logBetween(0.05, 1e5) };
  const short = { kind, at, ohms: random.logBetween(0.05, 1000), position: placeAlong(random, circuit, at) };
  if (kind !== 'short-between') return short;
  const other = random.pick(spans.filter((span) => span !== at));
  return { ...short, other, otherPosition: placeAlong(random, circuit, other) };
}

describe(`FaultSolver against the full solution, seed ${SEED}`, () => {
  it('reads the same volts and ohms under every kind of fault in every state, in far fewer steps', () => {
    const random = new Random(SEED);
    for (let order = 0; order < 150; order++) {
      const chart = randomChart(random);
      const circuit = circuitOf(chart);
      const solver = new FaultSolver(circuit);
      const points = chart.points.map((point) => point.id);
      const parts = [...chart.spans.map((span) => span.id), ...chart.components.filter((part) => part.kind !== 'battery').map((part) => part.id)];
      for (let fault = 0; fault < 6; fault++) {
        const own = random.chance(0.1) ? null : randomFault(random, circuit, parts, chart.spans.map((span) => span.id));
        const arrangement = random.chance(0.5) ? AS_FOUND : usualArrangement(chart, random.pick(['continuity', 'short-to-ground', 'short-to-supply']));
        const full = solveCircuit(circuit, arrangement, own === null ? [] : [own]);
        const quick = solver.solve(arrangement, own);
        const [red, black] = [random.pick(points), random.pick(points)];
        const what = `circuit ${order}: ${JSON.stringify(own)} ${red} ${black} ${arrangement.removed.join()}`;
        const volts = full.volts(red, black);
        // Pieces of wire below 0.1 milliohm are rounded up. Between wires that hang in the air the reading hangs on their insulation, of which the full solution gives the place of a short some of its own.
        const hangs = full.network.resistance(red, black) > 1e6;
        const quickVolts = quick.reading({ id: '', arrangement, quantity: 'voltage', red, black });
        expect(Math.abs(quickVolts - volts), what).toBeLessThan(hangs ? 0.1 : 1e-3 + 1e-4 * Math.abs(volts));
        const ohms = full.ohms(red, black);
        const quickOhms = quick.reading({ id: '', arrangement, quantity: 'resistance', red, black });
        // In a live circuit the foreign voltage, and so what the two ways differ in it, is divided by the current of the ohmmeter.
        const foreign = Math.abs(quickVolts - volts) / METER_OHMS_CURRENT;
        if (Number.isFinite(ohms)) expect(Math.abs(quickOhms - ohms), what).toBeLessThan(1e-3 + 1e-3 * Math.abs(ohms) + 1.01 * foreign);
        else expect(quickOhms, what).toBe(Infinity);
      }
    }
  });

  it('blows the same fuses', () => {
    const random = new Random(SEED + 1);
    let blown = 0;
    for (let order = 0; order < 100; order++) {
      const chart = randomChart(random);
      const circuit = circuitOf(chart);
      const fault: Fault = { kind: 'short-to-ground', at: random.pick(chart.spans).id, ohms: random.logBetween(0.05, 5), position: 0.5 };
      const own = blownFuses(circuit, [fault]);
      blown += own.length;
      expect(new FaultSolver(circuit).blown(fault)).toEqual(own);
    }
    expect(blown).toBeGreaterThan(0);
  });

  it('gives the sensitivity to every resistance that a small change of it shows', () => {
    const random = new Random(SEED + 2);
    for (let order = 0; order < 40; order++) {
      const chart = randomChart(random, { circuits: [1, 1], loads: [1, 3], parallelGround: 0.5 });
      const circuit = circuitOf(chart);
      const arrangement = random.chance(0.5) ? AS_FOUND : usualArrangement(chart, 'continuity');
      const fault = random.chance(0.5) ? null : randomFault(random, circuit, chart.spans.map((span) => span.id), chart.spans.map((span) => span.id));
      const points = chart.points.map((point) => point.id);
      const probe = { id: '', arrangement, quantity: random.pick(['voltage', 'resistance'] as const), red: random.pick(points), black: random.pick(points) };
      const perOhm = new Float64Array(circuit.parts.length);
      const value = new FaultSolver(circuit).solve(arrangement, fault).sensitivity(probe, perOhm);
      if (!Number.isFinite(value) || Math.abs(value) > 1000) continue;
      circuit.parts.forEach((part, place) => {
        // The part that holds the fault is split or replaced by it: its own tolerance goes into the fault's.
        if (part.kind === 'battery' || part.id === fault?.at || part.id === fault?.other) return;
        const step = 0.02 * part.ohms;
        const moved = (by: number): number => new FaultSolver({ ...circuit, parts: circuit.parts.map((own) => (own.id === part.id ? { ...own, ohms: own.ohms + by, ...(own.coldOhms === undefined ? {} : { coldOhms: own.coldOhms + by / 10 }) } : own)) }).solve(arrangement, fault).reading(probe);
        const measured = (moved(step) - moved(-step)) / (2 * step);
        const isCold = solveCircuit(circuit, arrangement, fault === null ? [] : [fault]).cold.has(part.id);
        if (!isCold) expect(Math.abs((perOhm[place] as number) - measured), `${part.id} ${JSON.stringify(fault)} ${JSON.stringify(probe)}`).toBeLessThan(0.01 * Math.abs(measured) + 0.02);
      });
    }
  });
});
