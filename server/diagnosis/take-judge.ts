/** One take, judged as its samples arrive: the same for the live screen, a recording, a file and the command line. */
import { UNITS } from '../../drivers/reading.ts';
import type { Quantity } from '../../drivers/reading.ts';
import { ALGORITHM } from './algorithm.ts';
import type { ChanceRange } from './coarse-sight.ts';
import { expectedQuantities } from './check-traits.ts';
import type { Departure } from './departure.ts';
import { Detector } from './detector.ts';
import type { Candidate } from './event-log.ts';
import { estimateDuration } from './duration.ts';
import { FrozenWatch } from './frozen.ts';
import type { Dropout, DurationEstimate, Exposure, Gap, JudgeSetup, Judgement, LevelDoubt, LevelVerdict, Sag, Shift, Verdict } from './judgement.ts';
import { doubtOf, judgeOverRange, judgeStretch, levelHistory, sayLevel } from './level-standing.ts';
import type { DecisionMemory, LevelContext } from './level-standing.ts';
import type { SampleColumns } from './samples.ts';
import { SightFinder } from './sight.ts';
import { CLAIMED_LENGTH, dropoutDirection, fullDepth, fullDepthRange, lowestAperture, silence, visibility } from './silence.ts';
import type { Silence, Visibility, Watch } from './silence.ts';
import type { SteadyStretch } from './steadiness.ts';
import { MOST_SHOWN, TakeSight } from './take-sight.ts';
import { sayCount, sayTime, sayTimes, sayValue } from './wording.ts';

const NO_LENGTH: DurationEstimate = { estimate: null, low: null, high: null };
/** A running departure is a level of its own once it has lasted this long, s. */
const LEVEL_TIME = 0.3;
const LEVEL_READINGS = 4;
/** So many readings in another function are no garbled line: what was done meanwhile was not watched. */
const FOREIGN_READINGS = 3;
/** What is in force is noted once in this many readings, and this time, s: it moves slowly. */
const NOTED_READINGS = MOST_SHOWN;
const NOTED_TIME = 0.1;

/**
 * Feed it the samples of a take in order, cut anywhere; ask for the judgement whenever wanted. Constant memory: the newest
 * 5,000 of each kind of event are kept, all are counted. What comes out depends only on setup and samples (and `now`).
 */
export class TakeJudge {
  #setup: JudgeSetup;
  readonly #detector: Detector;
  readonly #frozen = new FrozenWatch();
  readonly #sight = new SightFinder();
  readonly #takeSight = new TakeSight();
  /** Samples at which is noted next what is in force, and quiet readings when it was noted last. */
  #noteAt = NOTED_READINGS;
  #notedQuiet = 0;
  /** The readings just before that. */
  readonly #newest = new Float64Array(NOTED_READINGS);
  /** Remembered lengths, each with what it was worked out with and may still change. */
  readonly #lengths = new WeakMap<Departure, { readonly interval: number; readonly resolution: number; readonly averaging: number; readonly duration: DurationEstimate }>();
  #decisions: DecisionMemory = new WeakMap();
  #announced = { newest: '', departures: 0 };

  /** @throws {RangeError} for an interval, aperture or depth that is not above 0, or limits that cross */
  constructor(setup: JudgeSetup) {
    checkSetup(setup);
    this.#setup = setup;
    this.#detector = new Detector(setup);
  }

  /**
   * What the user says later of meter and check, and what does not change what was detected: counts for the whole take.
   * @throws {RangeError} as the constructor
   */
  revise(change: Partial<Pick<JudgeSetup, 'accuracy' | 'ranges' | 'displayCounts' | 'leadOhms' | 'missingCondition' | 'claim'>>): void {
    const setup = { ...this.#setup, ...change };
    checkSetup(setup);
    this.#setup = setup;
    this.#decisions = new WeakMap();
  }

  /** Samples `from` up to, not including, `to`. They follow those pushed before. */
  push(samples: SampleColumns, from = 0, to = samples.length): void {
    // Noted after the same samples however they are cut.
    for (let at = from; at < to;) {
      const end = Math.min(to, at + this.#noteAt - this.#detector.tally.samples);
      const before = this.#noteAt - NOTED_READINGS - this.#detector.tally.samples;
      for (let i = Math.max(at, at + before); i < end; i++) this.#newest[i - at - before] = samples.value[i] as number;
      this.#frozen.push(samples, at, end);
      this.#detector.push(samples, at, end);
      at = end;
      if (this.#detector.tally.samples === this.#noteAt) this.#note();
    }
  }

  #note(): void {
    const d = this.#detector;
    this.#noteAt += Math.max(NOTED_READINGS, d.interval > 0 ? Math.round(NOTED_TIME / d.interval) : 0);
    const { level, entry, tally: { quietReadings } } = d;
    // A sensor that moves has a threshold that moves with it: there the moment counts.
    if (this.#setup.watching === 'spot' || this.#setup.kind === 'sensor-sweep' || !Number.isFinite(level)) return;
    const count = d.tally.resolution > 0 ? d.tally.resolution : 0;
    const quantity = d.tally.quantity ?? 'voltage';
    const depth = fullDepth({ setup: this.#setup, quantity, level, count, threshold: entry });
    const direction = dropoutDirection(this.#setup, quantity, level);
    this.#takeSight.note({ entry, noise: d.noise.deviation, resolution: count, depth }, quietReadings - this.#notedQuiet, { level, direction, readings: this.#newest });
    this.#notedQuiet = quietReadings;
  }

  /**
   * How often it has left its level and returned, those merged into one dropout each counted: what is announced at once, without
   * working out the rest. As the dropouts of the judgement add up.
   */
  get departures(): number {
    const { events: { candidates }, returned, away, onTrial } = this.#detector;
    const newest = `${candidates.items().length + candidates.dropped}/${returned?.first}/${returned?.count}/${away?.first}/${onTrial.length}/${onTrial.at(-1)?.count}`;
    if (newest !== this.#announced.newest) this.#announced = { newest, departures: this.#detector.dropouts().reduce((sum, { departure }) => sum + departure.count, 0) };
    return this.#announced.departures;
  }

  /** Chance that the take so far would have caught a full dropout of `length` s, at whatever moment of it; null while nothing is known of the noise. */
  caught(length: number): ChanceRange | null {
    const { interval, z } = this.#detector;
    return interval > 0 ? this.#takeSight.chance(length, { interval, aperture: lowestAperture(this.#setup.aperture, interval) }, z) : null;
  }

  /**
   * Everything known of the take so far.
   * @param now  on the clock of the samples, s: lets a gap that is still running show
   * @param exposure  what the operator counted; without it a wiggle take counts as flexed all the time
   */
  judgement(now?: number, exposure?: Exposure): Judgement {
    const d = this.#detector;
    const setup = this.#setup;
    const quantity: Quantity = d.tally.quantity ?? 'unknown';
    const count = d.tally.resolution > 0 ? d.tally.resolution : null;
    const interval = d.interval > 0 ? d.interval : null;
    const isSpot = setup.watching === 'spot';
    const context: LevelContext = { setup, quantity, count };

    const gaps = this.#gaps(now);
    const elapsed = d.tally.samples === 0 ? 0 : Math.max(0, (now ?? d.tally.lastTime) - d.tally.firstTime + (interval ?? 0));
    const runningGap = gaps.length > 0 && now !== undefined ? Math.max(0, now - d.tally.lastDataTime - 1.5 * (interval ?? Infinity)) : 0;
    const watched = Math.max(0, elapsed - d.tally.gapTime - runningGap - this.#frozen.time);

    const stretches = d.steadiness.stretches();
    const latest = isSpot ? chooseContact(stretches, count ?? 0) : stretches.at(-1) ?? null;
    const levelOverRange = isSpot ? latest === null && d.overRangeRun >= LEVEL_READINGS : d.levelOverRange;
    const level = levelOverRange ? null : isSpot ? latest?.value ?? null : finiteOrNull(d.level);
    const noise = isSpot
      ? latest === null ? null : Math.max(latest.spread, (count ?? 0) / Math.sqrt(12))
      : d.noise.readings > 0 && Number.isFinite(d.noise.deviation) ? d.noise.deviation : null;
    const threshold = isSpot || level === null ? null : finiteOrNull(d.threshold);

    const dropouts = isSpot ? [] : this.#dropouts();
    const dropoutCount = dropouts.length + d.events.candidates.dropped;
    const sags = isSpot ? [] : [...d.events.sags.items()];
    const shifts = isSpot ? [] : this.#shifts();

    const watch: Watch | null = threshold === null || level === null || interval === null || noise === null ? null
      : { setup, quantity, interval, level, threshold, noise, count: count ?? 0 };
    const seen = watch === null ? null : visibility(watch);
    const caught = seen === null ? null : (length: number): ChanceRange => this.caught(length) ?? sharp(seen.catchAt(length));
    const quiet = silence(setup, watched, dropoutCount, exposure ?? null, caught);

    const standing = this.#levelStanding(context, stretches, latest, levelOverRange);
    const foreign = d.tally.foreignSamples === 0 ? null : this.#sayForeign();
    const words = decide({
      setup, standing, dropouts, dropoutCount, quiet, elapsed, quantity, count, samples: d.tally.dataSamples,
      foreign: !isSpot && d.tally.foreignSamples >= FOREIGN_READINGS ? foreign : null,
    });
    const remarks = this.#remarks(context, gaps, sags, shifts, seen, interval, foreign);
    const reasons = [...words.reasons, ...remarks.filter((remark) => !words.reasons.includes(remark))];

    return {
      algorithm: ALGORITHM, quantity, unit: UNITS[quantity], samples: d.tally.samples, elapsed,
      // Of the level: the newest reading may be on the range of an open.
      interval, aperture: setup.aperture, noise, resolution: latest !== null && latest.count > 0 ? latest.count : count, level, levelOverRange, ...(quantity === 'resistance' && setup.leadOhms !== null ? { leadOhms: setup.leadOhms } : {}), threshold,
      steady: stretches.map(({ start, end, value, spread }) => ({ start, end, value, spread })),
      dropouts, ...(dropoutCount > dropouts.length ? { dropoutCount } : {}), sags, shifts, gaps,
      verdict: words.verdict, levelVerdict: standing.verdict, doubt: standing.doubt, reasons,
      shortestVisibleDropout: seen?.shortest ?? null, sureDropout: seen?.sure ?? null,
      rateLimitPerHour: quiet === null ? null : { length: quiet.claim.length ?? CLAIMED_LENGTH, limit: quiet.limitPerHour },
      claims: quiet?.claims ?? [], sight: watch === null ? null : this.#sight.sight(watch, d.z, this.#takeSight.coarseNow),
    };
  }

  #gaps(now: number | undefined): Gap[] {
    const d = this.#detector;
    const gaps = [...d.events.gaps.items()];
    if (now !== undefined && d.interval > 0 && now - d.tally.lastDataTime > 1.5 * d.interval) gaps.push({ start: d.tally.lastDataTime, end: now });
    return gaps;
  }

  #dropouts(): Dropout[] {
    const d = this.#detector;
    return d.dropouts().map((candidate) => this.#dropout(candidate, candidate.departure === d.returned || d.onTrial.includes(candidate.departure)));
  }

  #dropout({ departure, start, end }: Candidate, isOpen = false): Dropout {
    const over = departure.overRange || departure.peak === Infinity;
    const { interval, tally: { resolution }, events: { averaging: { version } } } = this.#detector;
    const known = this.#lengths.get(departure);
    const duration = known?.interval === interval && known.resolution === resolution && known.averaging === version ? known.duration : isOpen ? NO_LENGTH : this.#length(departure);
    if (!isOpen) this.#lengths.set(departure, { interval, resolution, averaging: version, duration });
    return { start, end, count: departure.count, depth: over ? null : departure.peakChange, overRange: over, duration, level: finiteOrNull(departure.level) };
  }

  #length(departure: Departure): DurationEstimate {
    const d = this.#detector;
    if (!(departure.noise > 0 && departure.threshold > 0)) return NO_LENGTH;
    const { ends, sizes, first, last } = departure.trail();
    const resolution = d.tally.resolution > 0 ? d.tally.resolution : 0;
    const full = fullDepthRange({ setup: this.#setup, quantity: d.tally.quantity ?? 'voltage', level: departure.level, count: resolution, threshold: departure.threshold });
    return estimateDuration({ ends, departures: sizes, first, last, count: departure.count }, {
      interval: d.interval, aperture: this.#setup.aperture, noise: departure.noise, resolution, threshold: departure.threshold,
      averaging: d.events.averaging.of(departure, d.interval), fullDepth: full.least, mostDepth: full.most,
    });
  }

  /** Shifts, with a departure or plateau that the take would end in. */
  #shifts(): Shift[] {
    const d = this.#detector;
    const shifts = [...d.events.shifts.items()];
    if (d.away !== null) shifts.push({ at: d.events.startOf(d.away), from: finiteOrNull(d.away.level), to: finiteOrNull(d.awayValue) });
    else if (d.plateau !== null) shifts.push({ at: d.plateau.start, from: d.plateau.from, to: finiteOrNull(d.level) });
    return shifts;
  }

  #levelStanding(context: LevelContext, stretches: readonly SteadyStretch[], latest: SteadyStretch | null, overRange: boolean): LevelStanding {
    const d = this.#detector;
    const away = d.away;
    const hasHistory = this.#setup.watching !== 'spot';
    const history = hasHistory ? levelHistory(stretches, context, this.#decisions) : { pass: 0, fail: 0, undecided: 0 };
    let verdict: LevelVerdict = 'undecided';
    let doubt: LevelDoubt | null = null;
    let sentence = d.tally.dataSamples === 0 ? 'No readings yet.' : 'The reading has not settled.';
    if (away !== null && away.readings >= LEVEL_READINGS && away.last - away.first >= LEVEL_TIME) {
      // The take ends away from its level, as far as anyone knows.
      const value = d.awayValue;
      const where = Number.isFinite(value) ? sayValue(value, context.quantity, context.count) : 'over-range';
      const decision = Number.isFinite(value)
        ? judgeStretch({ start: away.first, end: away.last, value, spread: d.noise.deviation || 0, readings: away.readings, count: context.count ?? 0, coupling: d.tally.coupling }, context)
        : null;
      verdict = decision?.verdict ?? judgeOverRange(context).verdict;
      doubt = decision === null ? null : doubtOf(decision);
      sentence = `Away from its level for ${sayTime(away.last - away.first)} now, at ${where}.`;
    } else if (overRange) ({ verdict, reason: sentence } = judgeOverRange(context));
    else if (latest !== null) {
      const decision = judgeStretch(latest, context);
      verdict = decision.verdict;
      doubt = doubtOf(decision);
      sentence = sayLevel(latest, decision, context);
    }
    const total = history.pass + history.fail + history.undecided;
    return { verdict, doubt, sentence, failsMostly: total > 0 && history.fail > total / 2, hasPassed: history.pass > 0, hasFailed: history.fail > 0, overRange };
  }

  #sayForeign(): string {
    const expected = expectedQuantities(this.#setup.kind);
    const needs = expected.length === 1 ? expected.join() : 'one function throughout';
    return `${sayCount(this.#detector.tally.foreignSamples, 'reading was', 'readings were')} in another function of the meter; this check needs ${needs}.`;
  }

  /** What else is worth knowing, after the decisive sentences. */
  #remarks(context: LevelContext, gaps: readonly Gap[], sags: readonly Sag[], shifts: readonly Shift[], seen: Visibility | null, interval: number | null, foreign: string | null): string[] {
    const d = this.#detector;
    const { quantity, count } = context;
    const remarks: string[] = [];
    if (foreign !== null) remarks.push(foreign);
    const lastShift = shifts.at(-1);
    if (lastShift !== undefined && d.away === null) {
      const say = (v: number | null): string => (v === null ? 'over-range' : sayValue(v, quantity, count));
      remarks.push(`The level changed from ${say(lastShift.from)} to ${say(lastShift.to)}${shifts.length > 1 ? ` (${shifts.length} changes in all)` : ''}.`);
    }
    if (sags.length > 0) remarks.push(`${sayCount(sags.length, 'shallow sag', 'shallow sags')}, as when a load switches: listed, not counted against the circuit.`);
    if (gaps.length > 0) {
      const lost = gaps.reduce((sum, gap) => sum + gap.end - gap.start, 0);
      remarks.push(`No readings for ${sayTime(lost)} in ${sayCount(gaps.length, 'gap', 'gaps')}: not counted as watched, and no dropouts.`);
    }
    if (this.#frozen.time > 0) {
      remarks.push(`The reading stood still for ${sayTime(this.#frozen.time)}, longer than its noise allows: hold on the meter, or it hangs. Not counted as watched.`);
    }
    if (d.tally.huntSamples >= 2 || d.events.rangeChanges > 0) remarks.push('The meter changed ranges by itself: lock the range, so that it keeps looking.');
    if (seen !== null && seen.shortest !== null && seen.sure !== null && interval !== null && this.#setup.watching !== 'spot') {
      const known = this.#setup.aperture !== null;
      remarks.push(`${known ? '' : 'Whatever its aperture, '}${known ? 'A' : 'a'} full break of ${sayTime(seen.shortest)} may show, and one of ${sayTime(seen.sure)} can't be missed.`);
    }
    return remarks;
  }
}

function checkSetup(setup: JudgeSetup): void {
  for (const name of ['interval', 'aperture', 'depth', 'shiftAfter'] as const) {
    const value = setup[name];
    if (value !== null && !(value > 0)) throw new RangeError(`${name} is above 0, not ${value}`);
  }
  const { low, high } = setup.limits;
  if (low !== null && high !== null && low > high) throw new RangeError(`the low limit ${low} is above the high limit ${high}`);
}

/** A stored take, judged in one go. */
export function judgeAll(setup: JudgeSetup, samples: SampleColumns, exposure?: Exposure): Judgement {
  const judge = new TakeJudge(setup);
  judge.push(samples);
  return judge.judgement(undefined, exposure);
}

interface LevelStanding {
  readonly verdict: LevelVerdict;
  readonly doubt: LevelDoubt | null;
  readonly sentence: string;
  readonly failsMostly: boolean;
  readonly hasPassed: boolean;
  readonly hasFailed: boolean;
  readonly overRange: boolean;
}

interface Evidence {
  readonly setup: JudgeSetup;
  readonly standing: LevelStanding;
  readonly dropouts: readonly Dropout[];
  readonly dropoutCount: number;
  readonly quiet: Silence | null;
  readonly elapsed: number;
  readonly quantity: Quantity;
  readonly count: number | null;
  readonly samples: number;
  /** That too many readings were in another function; null when not. A pass can't stand on the rest: flexes and time were counted meanwhile. */
  readonly foreign: string | null;
}

/** Two questions, one word: is the level within its limits, and did it stay. */
function decide(e: Evidence): { verdict: Verdict; reasons: string[] } {
  const { setup, standing } = e;
  const dropped = e.dropoutCount > 0 ? [sayDropouts(e)] : [];
  if (setup.missingCondition !== null && setup.missingCondition !== '' && standing.verdict !== 'fail' && e.dropoutCount === 0) {
    return { verdict: 'undecided', reasons: [`Undecided: ${setup.missingCondition}.`, standing.sentence] };
  }
  if (standing.verdict === 'fail') return { verdict: 'fail', reasons: [standing.sentence, ...dropped] };
  if (standing.failsMostly) return { verdict: 'fail', reasons: ['The level is outside its limits most of the time.', standing.sentence, ...dropped] };
  if (e.dropoutCount > 0) return { verdict: 'intermittent', reasons: [...dropped, standing.sentence] };
  if (standing.hasPassed && standing.hasFailed) {
    return { verdict: 'intermittent', reasons: ['The level was inside its limits at one time and outside at another.', standing.sentence] };
  }
  if (standing.verdict === 'undecided') return { verdict: 'undecided', reasons: [standing.sentence, ...(e.quiet === null || e.samples === 0 ? [] : [e.quiet.sentence])] };
  if (e.quiet !== null && !e.quiet.standing.isMet) return { verdict: 'undecided', reasons: [e.quiet.sentence, standing.sentence] };
  if (e.foreign !== null) return { verdict: 'undecided', reasons: [e.foreign, standing.sentence] };
  return { verdict: 'pass', reasons: [standing.sentence, ...(e.quiet === null ? [] : [e.quiet.sentence])] };
}

function sayDropouts({ dropouts, dropoutCount, elapsed, quantity, count }: Evidence): string {
  let worst: Dropout | null = null;
  for (const dropout of dropouts) {
    if (worst === null || (dropout.overRange && !worst.overRange) || (!worst.overRange && Math.abs(dropout.depth ?? 0) > Math.abs(worst.depth ?? 0))) worst = dropout;
  }
  const head = `Dropped out ${sayTimes(dropoutCount)} in ${sayTime(elapsed)}`;
  if (worst === null) return `${head}.`;
  if (worst.level === undefined || worst.level === null) return `${head}: the open circuit closed for a moment.`;
  const from = sayValue(worst.level, quantity, count);
  if (worst.overRange) return `${head}, to over-range from ${from}.`;
  const depth = worst.depth ?? 0;
  return `${head}, ${depth < 0 ? 'down' : 'up'} to ${sayValue(worst.level + depth, quantity, count)} from ${from}.`;
}

/**
 * The reading that a spot take is judged by: the latest contact. What lifted leads read (about nothing) is taken only when the
 * leads never read anything else: then it may be a dead circuit.
 */
function chooseContact(stretches: readonly SteadyStretch[], count: number): SteadyStretch | null {
  const largest = stretches.reduce((most, s) => Math.max(most, Math.abs(s.value)), 0);
  const floor = Math.max(5 * count, 0.01 * largest);
  for (let i = stretches.length - 1; i >= 0; i--) {
    const stretch = stretches[i] as SteadyStretch;
    if (Math.abs(stretch.value) > floor) return stretch;
  }
  return stretches.at(-1) ?? null;
}

const sharp = (chance: number): ChanceRange => ({ low: chance, high: chance });

function finiteOrNull(value: number): number | null { return Number.isFinite(value) ? value : null; }
