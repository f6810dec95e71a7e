/**
 * How often the zone named is the source: simulated technicians on six zones (reaction lag 1 +/- 0.5 s, dwell 2 to 30 s, background
 * dropouts, coupling to neighbours, one in ten with the source elsewhere), and some that break the assumptions.
 */
import { randomInt } from 'node:crypto';
import { findSourceZone } from '../../server/diagnosis/zones.ts';
import type { WiggleRecord, ZoneReport } from '../../server/diagnosis/zones.ts';
import { Random } from '../signals/random.ts';
import { afterDropouts, drawTechnician, wiggle } from '../signals/technician.ts';
import type { Technician } from '../signals/technician.ts';

const MOST_DROPOUTS = 100;
const TECHNICIANS = 1500;
const PLAIN_COUNTS = [3, 5, 10, 15, 20, 30, 40, 60, 80, 100];
const CHECKPOINTS = [3, 6, 10, 20];
const round = (value: number, digits = 3): number => Number(value.toFixed(digits));

const scenarios: Record<string, (technician: Technician) => Technician> = {
  'as stated': (technician) => technician,
  'no coupling, hardly any background': (technician) => ({ ...technician, coupling: 0, background: 0.003 }),
  'strong coupling (0.8)': (technician) => ({ ...technician, coupling: 0.8 }),
  'dropouts in bursts of two': (technician) => ({ ...technician, burst: 2 }),
  'slower than assumed (1.7 +/- 0.8 s)': (technician) => ({ ...technician, lag: { mean: 1.7, deviation: 0.8 } }),
};

const leaderOf = (report: ZoneReport): { zone: string; chance: number } => report.zones.reduce((best, zone) => (zone.chance > best.chance ? zone : best));
const busiestOf = (report: ZoneReport): string =>
  report.zones.reduce((best, zone) => ((zone.rate?.estimate ?? 0) > (best.rate?.estimate ?? 0) ? zone : best)).zone;
/** The zone with most dropouts per time flexed, as the keys tell it, with no allowance for the lag. */
function highestRate({ zones, changes, dropouts, end }: WiggleRecord): string | null {
  const flexed = new Map(zones.map((zone) => [zone, { time: 0, dropouts: 0 }]));
  changes.forEach(({ at, zone }, k) => {
    const stop = changes[k + 1]?.at ?? end;
    const own = zone === null ? undefined : flexed.get(zone);
    if (own === undefined) return;
    own.time += stop - at;
    own.dropouts += dropouts.filter((one) => one >= at && one < stop).length;
  });
  let best: string | null = null;
  let most = 0;
  for (const [zone, { time, dropouts: n }] of flexed) {
    if (time > 0 && n / time > most) {
      most = n / time;
      best = zone;
    }
  }
  return best;
}
const quantile = (sorted: readonly number[], p: number): number | null => sorted[Math.floor(p * sorted.length)] ?? null;

function runScenario(of: (technician: Technician) => Technician, random: Random): object {
  const named = { takes: 0, right: 0, plainRight: 0 };
  const atTen = { takes: 0, right: 0, plainRight: 0 };
  const needed: number[] = [];
  /** Takes with a source, and those in which the highest rate was the source's, after n dropouts. */
  const plain = { takes: 0, right: new Float64Array(MOST_DROPOUTS + 1) };
  const foretold: { said: number; took: number }[] = [];
  const bins = Array.from({ length: 10 }, () => ({ n: 0, said: 0, right: 0 }));
  for (let k = 0; k < TECHNICIANS; k++) {
    const technician = of(drawTechnician(random));
    const full = wiggle(technician, random, MOST_DROPOUTS);
    let isNamed = false;
    let saidAtThree: number | null = null;
    if (technician.source !== null && full.dropouts.length === MOST_DROPOUTS) {
      plain.takes++;
      for (const n of PLAIN_COUNTS) if (highestRate(afterDropouts(full, n)) === technician.source) plain.right[n] = (plain.right[n] as number) + 1;
    }
    for (let n = 1; n <= full.dropouts.length && !(isNamed && n > 20); n++) {
      const report = findSourceZone(afterDropouts(full, n));
      const leader = leaderOf(report);
      if (CHECKPOINTS.includes(n)) {
        const bin = bins[Math.min(9, Math.floor(leader.chance * 10))] as { n: number; said: number; right: number };
        bin.n++;
        bin.said += leader.chance;
        if (leader.zone === technician.source) bin.right++;
      }
      if (n === 3 && report.source === null) saidAtThree = report.dropoutsNeeded;
      if (n === 10 && technician.source !== null) {
        atTen.takes++;
        if (leader.zone === technician.source) atTen.right++;
        if (busiestOf(report) === technician.source) atTen.plainRight++;
      }
      if (!isNamed && report.source !== null) {
        isNamed = true;
        named.takes++;
        needed.push(n);
        if (report.source === technician.source) named.right++;
        if (busiestOf(report) === technician.source) named.plainRight++;
        if (saidAtThree !== null) foretold.push({ said: saidAtThree, took: n - 3 });
      }
    }
  }
  needed.sort((a, b) => a - b);
  const told = bins.reduce((sum, bin) => sum + bin.n, 0);
  const ratios = foretold.map(({ said, took }) => took / said).sort((a, b) => a - b);
  return {
    technicians: TECHNICIANS,
    named: named.takes, right: round(named.right / named.takes), standardError: round(Math.sqrt(0.05 * 0.95 / named.takes)),
    highestRateRightThen: round(named.plainRight / named.takes),
    dropoutsNeeded: { median: quantile(needed, 0.5), ninetiethPercentile: quantile(needed, 0.9) },
    highestRateRightAfter: Object.fromEntries(PLAIN_COUNTS.map((n) => [n, round((plain.right[n] as number) / plain.takes)])),
    highestRateNeedsFor95Percent: PLAIN_COUNTS.find((n) => (plain.right[n] as number) >= 0.95 * plain.takes) ?? `more than ${MOST_DROPOUTS}`,
    afterTenDropouts: { posteriorRight: round(atTen.right / atTen.takes), highestRateRight: round(atTen.plainRight / atTen.takes) },
    dropoutsTakenOverForetold: { median: round(quantile(ratios, 0.5) ?? Number.NaN, 2), ninetiethPercentile: round(quantile(ratios, 0.9) ?? Number.NaN, 2) },
    reliability: bins.filter((bin) => bin.n > 0).map((bin) => ({ n: bin.n, said: round(bin.said / bin.n), right: round(bin.right / bin.n) })),
    expectedCalibrationError: round(bins.reduce((sum, bin) => sum + Math.abs(bin.said - bin.right), 0) / told, 4),
  };
}

export default {
  name: 'zones',
  run: async (): Promise<object> => {
    const seed = randomInt(2 ** 31);
    const random = new Random(seed);
    return { seed, ...Object.fromEntries(Object.entries(scenarios).map(([name, of]) => [name, runScenario(of, random.fork())])) };
  },
};
