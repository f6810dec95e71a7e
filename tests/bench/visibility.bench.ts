/**
 * How true is what the tool says about short dropouts: the chance of catching one, its length, and the meter's aperture; in the
 * first two also against streams with drift, ripple, hum and noise of other shapes, which the formulas know nothing of.
 */
import { randomInt } from 'node:crypto';
import { measureAperture } from '../../server/diagnosis/aperture.ts';
import { entryThresholdZ } from '../../server/diagnosis/distributions.ts';
import { estimateDuration } from '../../server/diagnosis/duration.ts';
import { judgeAll } from '../../server/diagnosis/index.ts';
import type { JudgeSetup } from '../../server/diagnosis/index.ts';
import { catchChance } from '../../server/diagnosis/visibility.ts';
import type { MeterView } from '../../server/diagnosis/visibility.ts';
import { columnsOf, drawStream, Random, SimulatedStream } from '../signals/index.ts';
import type { StreamKind } from '../signals/index.ts';
import { drawDropout, METER_KINDS } from '../signals/one-dropout.ts';
import { caughtIn } from '../support/caught-in.ts';

const round = (value: number, digits = 4): number => Number(value.toFixed(digits));
const decade = (length: number): string => `${['0.1-1 ms', '1-10 ms', '10-100 ms', '0.1-1 s', '1-10 s'][Math.min(4, Math.max(0, Math.floor(Math.log10(length)) + 4))]}`;

/** One simulated catch: does any reading go beyond the threshold? */
function isCaught(length: number, view: MeterView, random: Random): boolean {
  const { interval, aperture, depth, resolution, threshold } = view;
  const analog = Math.sqrt(Math.max(0, view.noise ** 2 - resolution ** 2 / 12));
  const start = random.between(0, interval);
  const level = (1000 + (view.levelFraction ?? random.uniform())) * resolution;
  for (let i = 0; (i + 1) * interval - aperture < start + length; i++) {
    const end = (i + 1) * interval;
    const overlap = Math.max(0, Math.min(start + length, end) - Math.max(start, end - aperture));
    if (overlap === 0) continue;
    const signal = level - (depth * overlap) / aperture + analog * random.gauss();
    if (level - (resolution === 0 ? signal : Math.round(signal / resolution) * resolution) > threshold) return true;
  }
  return false;
}

/** Predicted against simulated chance of catching, over drawn meters. */
function catching(random: Random): object {
  const kinds = {
    'no dead time': () => ({ part: 1, resolution: 0 }),
    'dead time': () => ({ part: random.between(0.05, 1), resolution: 0 }),
    'coarse display': () => ({ part: random.between(0.05, 1), resolution: random.logBetween(0.003, 0.1) }),
    'coarse display, place of the level known': () => ({ part: random.between(0.05, 1), resolution: random.logBetween(0.003, 0.1), levelFraction: random.uniform() }),
    'overlapping apertures': () => ({ part: random.between(1, 3), resolution: 0 }),
  };
  const trials = 40_000;
  return Object.fromEntries(Object.entries(kinds).map(([kind, drawn]) => {
    let worst = 0;
    let squares = 0;
    const meters = 60;
    for (let m = 0; m < meters; m++) {
      const { part, ...rest } = drawn();
      const interval = random.logBetween(1e-3, 1);
      const noise = Math.hypot(random.logBetween(1e-4, 0.05), rest.resolution / Math.sqrt(12));
      const threshold = Math.max(entryThresholdZ(interval) * noise, 1.5 * rest.resolution);
      const view: MeterView = { interval, aperture: part * interval, depth: 1, noise, threshold, ...rest };
      const length = Math.min(5 * interval, threshold * view.aperture * random.logBetween(0.5, 30));
      let caught = 0;
      for (let t = 0; t < trials; t++) if (isCaught(length, view, random)) caught++;
      const difference = Math.abs(caught / trials - catchChance(length, view));
      worst = Math.max(worst, difference);
      squares += difference ** 2;
    }
    return [kind, { meters, trialsEach: trials, worstDifference: round(worst), rootMeanSquare: round(Math.sqrt(squares / meters)), simulationsOwnError: round(0.5 / Math.sqrt(trials)) }];
  }));
}

/** Takes of one meter, and dropouts in each: together they bring the simulation's own error to 0.005. */
const JUDGED_TAKES = 5;
const JUDGED_DROPOUTS = 2000;
const READINGS_APART = 160;

/** Chances that a take states as one number: lowest and highest differ by less. */
const SHARP = 0.02;

/**
 * The chance that a take states for its claim against what the whole judge caught in it: full dropouts of one length, with level, noise
 * and threshold as the judge learns them. Of a coarse display the take states the lowest and the highest chance that fit what was shown; its level is
 * set at five places between two counts.
 */
function catchingByTheJudge(random: Random): object {
  return Object.fromEntries(([['fine display', 10], ['dead time', 10], ['coarse display', 30]] as const).map(([kind, meters]) => {
    const ofMeters: number[] = [];
    const ofTakes: number[] = [];
    const ofSharpTakes: number[] = [];
    const widths: number[] = [];
    for (let m = 0; m < meters; m++) {
      const interval = random.logBetween(0.002, 0.4);
      const aperture = kind === 'fine display' ? interval : interval * random.between(0.2, 1);
      const count = kind === 'coarse display' ? random.pick([0.05, 0.1, 0.2]) : 0.001;
      const analog = kind === 'coarse display' ? count * random.logBetween(0.05, 0.6) : random.logBetween(0.002, 0.05);
      const base = 12 + random.uniform();
      const length = (Math.max(5.5 * Math.hypot(analog, count / Math.sqrt(12)), 1.5 * count) * aperture * random.logBetween(0.8, 4)) / base;
      const takes = Array.from({ length: JUDGED_TAKES }, (_, take) =>
        oneTake({ interval, aperture, count, analog, level: base + (count * (take + random.uniform())) / JUDGED_TAKES, length }, random));
      ofMeters.push(beyond({ caught: mean(takes, 'caught'), low: mean(takes, 'low'), high: mean(takes, 'high') }));
      for (const take of takes) {
        ofTakes.push(beyond(take));
        widths.push(take.high - take.low);
        if (take.high - take.low < SHARP) ofSharpTakes.push(Math.abs(take.caught - (take.low + take.high) / 2));
      }
    }
    for (const list of [ofMeters, ofSharpTakes]) list.sort((a, b) => a - b);
    return [kind, {
      meters, dropoutsEach: JUDGED_TAKES * JUDGED_DROPOUTS,
      // Beyond the stated range, over all takes of a meter.
      medianDifference: round(ofMeters[ofMeters.length >> 1] as number), worstDifference: round(ofMeters.at(-1) as number),
      simulationsOwnError: round(0.5 / Math.sqrt(JUDGED_TAKES * JUDGED_DROPOUTS)),
      takes: ofTakes.length, worstTakeBeyond: round(Math.max(...ofTakes)), ownErrorOfATake: round(0.5 / Math.sqrt(JUDGED_DROPOUTS)),
      sharpTakes: ofSharpTakes.length, sharpMedianDifference: round(ofSharpTakes[ofSharpTakes.length >> 1] ?? Number.NaN), sharpWorstDifference: round(ofSharpTakes.at(-1) ?? Number.NaN),
      widestRange: round(Math.max(...widths)),
    }];
  }));
}

interface CaughtTake { readonly caught: number; readonly low: number; readonly high: number }
const beyond = ({ caught, low, high }: CaughtTake): number => Math.max(0, low - caught, caught - high);
const mean = (takes: readonly CaughtTake[], key: keyof CaughtTake): number => takes.reduce((sum, take) => sum + take[key] / takes.length, 0);

interface DrawnTake { readonly interval: number; readonly aperture: number; readonly count: number; readonly analog: number; readonly level: number; readonly length: number }

function oneTake({ interval, aperture, count, analog, level, length }: DrawnTake, random: Random): CaughtTake {
  const starts: number[] = [];
  const values: number[] = [];
  for (let i = 0; i < READINGS_APART * JUDGED_DROPOUTS; i++) {
    if (i % READINGS_APART === 0) starts.push((i + READINGS_APART / 2 + random.uniform()) * interval);
    const end = (i + 1) * interval;
    const start = starts.at(-1) as number;
    const overlap = Math.max(0, Math.min(start + length, end) - Math.max(start, end - aperture));
    values.push(Math.round((level - (level * overlap) / aperture + analog * random.gauss()) / count) * count);
  }
  const setup: JudgeSetup & { interval: number } = {
    kind: 'supply', watching: 'wiggle', limits: { low: null, high: null }, interval, aperture, accuracy: null, leadOhms: null, depth: null,
    shiftAfter: null, missingCondition: null, claim: { per: 'hour', rate: 6, length },
  };
  const samples = columnsOf(values, interval, { resolution: count });
  const { said, caught } = caughtIn(samples, starts, setup, length);
  return { caught, ...said };
}

interface Tally { n: number; covered: number; short: number; long: number; bounds: number; logWidth: number; time: number }
const empty = (): Tally => ({ n: 0, covered: 0, short: 0, long: 0, bounds: 0, logWidth: 0, time: 0 });
function count(tally: Tally, truth: number, { estimate, low, high }: ReturnType<typeof estimateDuration>): void {
  tally.n++;
  if (estimate === null) tally.bounds++;
  if (truth < (low ?? 0)) tally.short++;
  else if (truth > (high ?? Infinity)) tally.long++;
  else tally.covered++;
  if (low !== null && high !== null) tally.logWidth += Math.log10(high / low);
}
const shown = (t: Tally): object => ({
  dropouts: t.n, covered: round(t.covered / t.n, 3), truthBelow: round(t.short / t.n, 3), truthAbove: round(t.long / t.n, 3),
  boundsOnly: round(t.bounds / t.n, 3), meanWidthDecades: round(t.logWidth / t.n, 2),
});

/** Coverage of the 95 % interval, lengths drawn from the stated prior. */
function lengths(random: Random): object {
  const byKind: Record<string, object> = {};
  const byDecade: Record<string, Tally> = {};
  const all = empty();
  let seconds = 0;
  for (const kind of METER_KINDS) {
    const tally = empty();
    while (tally.n < 2500) {
      const drawn = drawDropout(kind, random);
      if (drawn === null) continue;
      const begin = performance.now();
      const estimate = estimateDuration(drawn.readings, drawn.view);
      seconds += (performance.now() - begin) / 1000;
      for (const one of [tally, all, byDecade[decade(drawn.length)] ??= empty()]) count(one, drawn.length, estimate);
    }
    byKind[kind] = shown(tally);
  }
  return {
    all: shown(all), byKind, byDecade: Object.fromEntries(Object.entries(byDecade).sort().map(([name, tally]) => [name, shown(tally)])),
    millisecondsEach: round((seconds * 1000) / all.n, 2),
  };
}

/** Coverage through the whole judge on full streams: its own level, noise and threshold; lone dropouts, matched by time. */
function lengthsOnStreams(random: Random): object {
  const kinds: StreamKind[] = [
    'slow-handheld', 'dead-time-handheld', 'filtering-handheld', 'coarse-display', 'bench-meter', 'logger-1khz', 'alternator-ripple',
    'mains-hum', 'heavy-tails', 'correlated-noise',
  ];
  return Object.fromEntries(kinds.map((kind) => {
    const tally = empty();
    for (let s = 0; s < 60; s++) {
      const drawn = drawStream(kind, random);
      const { interval, aperture, check, dropouts } = drawn;
      if (dropouts === null) continue;
      const lone = { ...dropouts, chatter: 0, shortest: 1e-4, longest: 9.9, apart: Math.max(dropouts.apart, 100 * interval) };
      const stream = new SimulatedStream({ ...drawn, dropouts: lone }, random.integer(1, 2 ** 31));
      const samples = stream.next(Math.min(60_000, Math.ceil(900 / interval)));
      const judged = judgeAll({
        kind: check, watching: 'wiggle', limits: { low: null, high: null }, interval, aperture, accuracy: null, leadOhms: null, depth: null,
        shiftAfter: null, missingCondition: null, claim: null,
      }, samples);
      for (const dropout of judged.dropouts) {
        if (dropout.count > 1 || dropout.overRange || dropout.duration.high === null) continue;
        const truths = stream.dropouts.filter((one) => one.start < dropout.end + 2 * interval && one.end > dropout.start - 2 * interval);
        const truth = truths[0];
        if (truth !== undefined && truths.length === 1) count(tally, truth.end - truth.start, dropout.duration);
      }
    }
    return [kind, shown(tally)];
  }));
}

/** Aperture from 100 edges. */
function apertures(random: Random): object {
  return Object.fromEntries([0.1, 0.3, 0.6, 0.9, 1].map((aperture) => {
    let held = 0;
    let error = 0;
    const runs = 1000;
    for (let run = 0; run < runs; run++) {
      const edges = Array.from({ length: 100 }, () => {
        const at = 2 + random.uniform();
        const values = Array.from({ length: 6 }, (_, i) => 12 - 12 * Math.min(1, Math.max(0, (i + 1 - at) / aperture)) + 0.01 * random.gauss());
        return { values, from: 12, to: 0 };
      });
      const measured = measureAperture(edges, 0.01);
      if (measured === null) continue;
      if (measured.low <= aperture && aperture <= measured.high) held++;
      error += (measured.part - aperture) ** 2;
    }
    return [`${aperture} of the interval`, { runs, held: round(held / runs, 3), rootMeanSquareError: round(Math.sqrt(error / runs), 3) }];
  }));
}

export default {
  name: 'visibility',
  run: async (): Promise<object> => {
    const seed = randomInt(2 ** 31);
    const random = new Random(seed);
    return {
      seed, catchChance: catching(random.fork()), caughtByTheJudge: catchingByTheJudge(random.fork()), lengthOfADropout: lengths(random.fork()), lengthOnStreams: lengthsOnStreams(random.fork()),
      apertureFrom100Edges: apertures(random.fork()),
    };
  },
};
