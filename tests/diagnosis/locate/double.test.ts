/** Two faults at once on the demo circuit: readings by the circuit solver, which is held against a circuit simulator elsewhere. */
import { describe, expect, it } from 'vitest';
import { alder7Chart, alder7FaultsAtRest } from '../../../server/demo/index.ts';
import type { Fault } from '../../../server/diagnosis/circuit/index.ts';
import { solveCircuit } from '../../../server/diagnosis/circuit/index.ts';
import { doubleFaults, Locator } from '../../../server/diagnosis/locate/index.ts';
import { benchFor } from '../../../server/session/candidates.ts';
import { circuitOf } from '../../../server/session/chart-circuit.ts';
import { suspectsFor } from '../../../server/session/suspects.ts';
import { Random } from '../../signals/random.ts';

const name = 'clutch and lamp';
const circuit = circuitOf(alder7Chart);
const bench = benchFor(alder7Chart, name);
const setup = { circuit, suspects: suspectsFor(alder7Chart, name), symptoms: [{ load: 'CL', works: false }, { load: 'LP', works: false }] };
const SEED = Math.floor(Math.random() * 2 ** 31);

/** Takes the readings of the named checks with these faults. @param wrong  what the lead that slipped reads instead, by check */
function read(faults: readonly Fault[], ids: readonly string[], wrong: Readonly<Record<string, number>> = {}, repeats: Readonly<Record<string, number>> = {}): Locator {
  const locator = new Locator(setup);
  for (const id of ids) {
    const { probe } = bench.candidates.find((own) => own.probe.id === id)!;
    const value = wrong[id] ?? solveCircuit(circuit, probe.arrangement, faults).volts(probe.red, probe.black);
    locator.observe({ probe, value, uncertainty: bench.uncertainty(probe.quantity, value), ...(repeats[id] === undefined ? {} : { repeats: repeats[id] }) });
  }
  return locator;
}
const drops = bench.candidates.filter(({ probe, flexing }) => probe.id.startsWith('drop ') && flexing === undefined).map(({ probe }) => probe.id);
const splice = alder7FaultsAtRest('splice');

describe('doubleFaults(setup, single)', () => {
  it('names a corroded splice and a corroded ground, with their sizes', () => {
    const ground: Fault = { kind: 'high-resistance', at: 'G2 to B-', ohms: 0.2 };
    const { chance, pairs } = doubleFaults(setup, read([...splice, ground], ['volts CL-', 'drop S3 to C2/4', 'drop G2 to B-', 'volts CL+', 'drop C2/4 to C1/6']));
    expect(chance).toBeGreaterThan(0.95);
    const best = pairs[0]!;
    expect(best.faults.map(({ suspect }) => suspect.at).sort()).toEqual(['G2 to B-', 'S3 to C2/4']);
    for (const { suspect, size } of best.faults) {
      const ohms = suspect.at === 'G2 to B-' ? 0.2 : 0.35;
      expect(size!.ohms).toBeGreaterThan(0.8 * ohms);
      expect(size!.ohms).toBeLessThan(1.25 * ohms);
    }
  });

  it('sees a broken wire to one load beside another load that is burnt out', () => {
    // The wire to the clutch is broken and the lamp is burnt out: nothing carries current, so that the one drop alone says where there is supply still.
    const faults: Fault[] = [{ kind: 'open', at: 'C2/1 to CL+' }, { kind: 'open', at: 'LP' }];
    const locator = read(faults, ['drop C2/1 to CL+', 'volts CL+', 'volts CL-', 'drop C2/1 to LP+', 'volts LP-', 'drop S3 to C2/4', 'drop K1/87 to C1/3', 'drop C1/3 to C2/1', 'volts K1/87']);
    expect(locator.contradictions()).not.toEqual([]);
    const { chance, pairs, given } = doubleFaults(setup, locator);
    expect(chance).toBeGreaterThan(0.9);
    expect(pairs[0]!.faults.map(({ suspect }) => suspect.at)).toContain('C2/1 to CL+');
    // What is the matter with the lamp's branch the readings can't tell: the chances of the pairs say so, and what the second is, given the first.
    expect(pairs.reduce((sum, pair) => sum + pair.chance, 0)).toBeLessThanOrEqual(chance + 1e-9);
    expect(given!.first.suspect.at).toBe('C2/1 to CL+');
    expect(given!.locator.chances().reduce((sum, own) => sum + own, 0)).toBeCloseTo(1, 9);
  });

  it('does not see two where there is one', () => {
    expect(doubleFaults(setup, read(splice, ['volts CL-', 'drop S3 to C2/4', 'drop G2 to B-', 'volts CL+'])).chance).toBeLessThan(0.1);
  });

  it('believes a slipped lead rather than a second fault, until the reading was repeated', () => {
    const ids = ['volts CL-', 'volts LP-', 'drop S3 to C2/4', 'drop C2/4 to C1/6', 'drop G2 to B-', 'volts CL+'];
    const slipped = { 'drop G2 to B-': 0.9 };
    const once = doubleFaults(setup, read(splice, ids, slipped)).chance;
    const thrice = doubleFaults(setup, read(splice, ids, slipped, { 'drop G2 to B-': 2 })).chance;
    expect(thrice).toBeGreaterThan(once);
    // The drops that go with it contradict it still: 0.9 V there would show at CL- too.
    expect(once).toBeLessThan(0.5);
  });

  it(`names both of two random bad joints, all drops read, in at least 7 of 8 (seed ${SEED})`, () => {
    const random = new Random(SEED);
    const spans = alder7Chart.spans.map(({ id }) => id);
    let right = 0;
    for (let trial = 0; trial < 8; trial++) {
      const first = random.pick(spans);
      const second = random.pick(spans.filter((id) => id !== first));
      const faults = [first, second].map((at): Fault => ({ kind: 'high-resistance', at, ohms: random.logBetween(0.1, 2) }));
      const { pairs } = doubleFaults(setup, read(faults, drops));
      if (pairs[0]?.faults.map(({ suspect }) => suspect.at).sort().join() === [first, second].sort().join()) right++;
    }
    expect(right).toBeGreaterThanOrEqual(7);
  });
});
