/**
 * The chance of two faults at once, over random harnesses that differ from their chart: half with one steady bad joint or break, half with two,
 * weighted to what is taken beforehand (two for each twenty with one), after some readings as found. LOCATE_CASES sets their number.
 */
import { env } from 'node:process';
import type { Fault } from '../../server/diagnosis/circuit/index.ts';
import { solveCircuit } from '../../server/diagnosis/circuit/index.ts';
import { doubleFaults, FAULT_OHMS, Locator, type Suspect } from '../../server/diagnosis/locate/index.ts';
import { USUAL_TOLERANCE } from '../../server/diagnosis/locate/tolerance.ts';
import { benchFor } from '../../server/session/candidates.ts';
import { circuitOf } from '../../server/session/chart-circuit.ts';
import { countAt, HAND_HELD } from '../../server/session/meter-uncertainty.ts';
import { suspectsFor } from '../../server/session/suspects.ts';
import { Random } from '../signals/random.ts';
import { calibration, calibrationError, realCircuit } from '../support/fault-hunt.ts';
import { randomChart } from '../support/random-chart.ts';

const TWO_FOR_ONE = 0.05;
const CIRCUIT = 'circuit 0';

/** @returns the chance of two faults that is told, null where none is, and whether the two that are named first are those that there are */
function tell(random: Random, isTwo: boolean): { readonly chance: number | null; readonly areThose: boolean } {
  const chart = randomChart(random, { circuits: [1, 2], loads: [1, 3], parallelGround: 0.2 });
  const { real } = realCircuit(random, chart);
  const suspects = suspectsFor(chart, CIRCUIT);
  const series = suspects.filter(({ kind, intermittent }) => (kind === 'open' || kind === 'high-resistance') && intermittent !== true);
  const first = weighted(random, series);
  const chosen = isTwo ? [first, weighted(random, series.filter(({ at }) => at !== first.at))] : [first];
  const faults = chosen.map(({ kind, at }): Fault => (kind === 'open' ? { kind: 'open', at } : { kind: 'high-resistance', at, ohms: random.logBetween(...FAULT_OHMS['high-resistance']) }));
  const bench = benchFor(chart, CIRCUIT);
  const setup = { circuit: circuitOf(chart), suspects, symptoms: [] };
  const locator = new Locator(setup);
  const asFound = bench.candidates.filter(({ probe, flexing }) => flexing === undefined && probe.quantity === 'voltage' && probe.arrangement.removed.length === 0);
  const wanted = Math.ceil(asFound.length * random.between(0.3, 1));
  for (let left = wanted; left > 0; left--) {
    const { probe } = asFound.splice(Math.floor(random.between(0, asFound.length)), 1)[0]!;
    const truth = solveCircuit(real, probe.arrangement, faults).volts(probe.red, probe.black);
    const count = countAt(HAND_HELD, 'voltage', truth);
    const { fraction, counts } = HAND_HELD.volts;
    // A lead that slipped reads anything, as often as the search takes for granted.
    const value = random.chance(USUAL_TOLERANCE.slip) ? Math.round((12 * random.uniform()) / count) * count : Math.round((truth + random.between(-1, 1) * (fraction * Math.abs(truth) + counts * count)) / count) * count;
    locator.observe({ probe, value, uncertainty: bench.uncertainty('voltage', value) });
  }
  // As the search does: two are looked for only where readings contradict each other.
  if (locator.contradictions().length === 0) return { chance: null, areThose: false };
  const { chance, pairs } = doubleFaults(setup, locator);
  const named = pairs[0]?.faults.map(({ suspect }) => suspect.at).sort().join() ?? '';
  return { chance, areThose: named === chosen.map(({ at }) => at).sort().join() };
}

function weighted(random: Random, suspects: readonly Suspect[]): Suspect {
  let left = random.between(0, suspects.reduce((sum, { weight }) => sum + weight, 0));
  return suspects.find(({ weight }) => (left -= weight) < 0) ?? suspects.at(-1)!;
}

export default {
  name: 'locate-double',
  run: async (): Promise<object> => {
    const cases = Number(env['LOCATE_CASES'] ?? 400);
    const seed = Math.floor(Math.random() * 2 ** 31);
    const random = new Random(seed);
    const all = Array.from({ length: cases }, (_, order) => {
      const isTwo = order % 2 === 1;
      return { ...tell(random.fork(), isTwo), isRight: isTwo, weight: isTwo ? TWO_FOR_ONE : 1 };
    });
    const told = all.flatMap((own) => (own.chance === null ? [] : [{ ...own, chance: own.chance }]));
    const [two, one] = [true, false].map((isTwo) => all.filter(({ isRight }) => isRight === isTwo)) as [typeof all, typeof all];
    const isSpokenOf = ({ chance }: (typeof all)[number]): boolean => (chance ?? 0) >= 0.5;
    const spoken = two.filter(isSpokenOf);
    return {
      seed, cases, told: told.length, calibrationError: calibrationError(told), byChance: calibration(told),
      twoToldOf: two.filter(({ chance }) => chance !== null).length / two.length,
      twoSpokenOf: spoken.length / two.length, thoseNamed: spoken.filter(({ areThose }) => areThose).length / Math.max(1, spoken.length),
      oneTakenForTwo: one.filter(isSpokenOf).length / one.length,
    };
  },
};
