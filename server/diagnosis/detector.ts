/**
 * From samples to departures, sags, shifts and gaps, reading by reading, in constant memory. Here readings that can't count are set
 * apart and lost ones become gaps; what counts goes to one way of watching: `LevelWatch`, `SweptWatch` or `ContactWatch`.
 */
import { Flag } from '../../drivers/reading.ts';
import { ContactWatch } from './contact-watch.ts';
import type { Departure } from './departure.ts';
import { ALARM_BUDGET_PER_HOUR } from './distributions.ts';
import { EntryThreshold } from './entry-threshold.ts';
import { EventLog } from './event-log.ts';
import type { Candidate } from './event-log.ts';
import type { JudgeSetup } from './judgement.ts';
import { LevelWatch } from './level-watch.ts';
import { NoiseScale } from './noise-scale.ts';
import { Pace } from './pace.ts';
import { RangeWatch } from './range-watch.ts';
import type { SampleColumns } from './samples.ts';
import { SampleTally } from './sample-tally.ts';
import { SteadinessWatch } from './steadiness.ts';
import { SweepWatch } from './sweep-watch.ts';
import { SweptWatch } from './swept-watch.ts';
import { TailLearner } from './tail-learner.ts';
import type { Watching, WatchParts } from './watching.ts';

/** No value in these readings: blank display, held value, or between ranges. */
const NO_DATA = Flag.blank | Flag.hold | Flag.rangeHunt;
/** After a pause of so many intervals the level's slope says nothing more. */
const LONG_PAUSE = 4;

export class Detector {
  readonly #setup: JudgeSetup;
  readonly tally = new SampleTally();
  readonly events: EventLog;
  readonly steadiness = new SteadinessWatch();
  readonly noise: NoiseScale;
  readonly #pace: Pace;
  readonly #ranges = new RangeWatch();
  readonly #sweep: SweepWatch | null;
  readonly #threshold: EntryThreshold;
  readonly #watching: Watching;
  /** The same, where it can skip. */
  readonly #levelWatch: LevelWatch | null;

  /** @param alarmBudget  false alarms an hour that are put up with */
  constructor(setup: JudgeSetup, alarmBudget: number = ALARM_BUDGET_PER_HOUR) {
    this.#setup = setup;
    this.#sweep = setup.kind === 'sensor-sweep' ? new SweepWatch(alarmBudget) : null;
    const { tally, steadiness } = this;
    const ranges = this.#ranges;
    const tail = this.#sweep?.tail ?? new TailLearner();
    const noise = this.#sweep?.noise ?? new NoiseScale();
    const threshold = new EntryThreshold(alarmBudget, noise, tail, tally, this.#sweep !== null);
    const adopt = (): void => {
      threshold.invalidate();
      noise.setInterval(pace.interval);
      steadiness.setMeter(tally.resolution, pace.interval);
    };
    const pace = new Pace(setup.interval, adopt);
    if (pace.isDeclared) adopt();
    const events = new EventLog({ setup, tally, pace, threshold, tail, ranges, sweep: this.#sweep });
    const parts: WatchParts = { setup, tally, pace, noise, tail, threshold, ranges, events, steadiness };
    this.#levelWatch = setup.watching === 'spot' || this.#sweep !== null ? null : new LevelWatch(parts);
    this.#watching = this.#levelWatch ?? (setup.watching === 'spot' || this.#sweep === null ? new ContactWatch(parts) : new SweptWatch(parts, this.#sweep));
    this.noise = noise;
    this.events = events;
    this.#pace = pace;
    this.#threshold = threshold;
  }

  /** Sample interval, declared or measured, s; NaN before it is known. */
  get interval(): number { return this.#pace.interval; }
  /** Level now, SI; NaN before anything was learned, and when it is over-range. */
  get level(): number { return this.#watching.level; }
  get levelOverRange(): boolean { return this.#watching.isOverRange; }
  get isLearning(): boolean { return this.#watching.isLearning; }
  /** The departure under way: away from the level and not back yet. */
  get away(): Departure | null { return this.#watching.away; }
  /** Value of the newest readings away from the level, SI; infinite when over-range. */
  get awayValue(): number { return this.#watching.awayValue; }
  /** A departure that has returned and may still be merged with the next. */
  get returned(): Departure | null { return this.#watching.pending; }
  /** What has left the plateau of the departure under way and returned to it. */
  get onTrial(): readonly Departure[] { return this.#watching.onTrial; }
  /** A shallow plateau under way. */
  get plateau(): Watching['plateau'] { return this.#watching.plateau; }
  /** Over-range readings in a row up to now, in a spot take. */
  get overRangeRun(): number { return this.#watching instanceof ContactWatch ? this.#watching.overRangeRun : 0; }
  /** A departure beyond this is looked at, SI. */
  get entry(): number { return this.#threshold.entry; }
  /** Threshold in noise deviations, tails learned so far included. */
  get z(): number { return this.#threshold.z; }
  /** Entry threshold h of the definitions, SI: a departure beyond it is noticed and stays noticed. */
  get threshold(): number { return Math.max(this.entry, this.z * (this.noise.deviation || 0), this.#sweep?.motionOverTwo ?? 0); }

  /** Dropouts so far: those that stand out from all noise seen; one that has just returned may still be merged with the next. */
  dropouts(): Candidate[] { return this.events.dropouts(this.returned === null ? this.onTrial : [this.returned, ...this.onTrial]); }

  push(samples: SampleColumns, from = 0, to = samples.length): void {
    const { time, value, resolution, flags, functionCode } = samples;
    const level = this.#levelWatch;
    let i = from;
    while (i < to) {
      const skipped = level !== null && level.canSkip && !this.tally.isBlank ? level.skip(samples, i, to) : i;
      if (skipped > i) {
        // Looked at anew, however the samples were cut: what may be skipped is never taken.
        i = skipped;
        continue;
      }
      this.#take(time[i] as number, value[i] as number, resolution[i] as number, flags[i] as number, functionCode[i] as number);
      i++;
    }
  }

  /** One sample, whatever it is. */
  #take(time: number, value: number, resolution: number, flags: number, code: number): void {
    const { tally } = this;
    const pace = this.#pace;
    tally.samples++;
    if (tally.samples === 1) tally.firstTime = time;
    const over = (flags & Flag.overRange) !== 0;
    const difference = time - tally.lastTime;
    if (difference > pace.gapLimit) this.#gap(tally.lastDataTime, time);
    tally.lastTime = time;
    if (code !== tally.code) {
      if (!tally.adoptFunction(code, this.#setup.kind)) {
        tally.foreignSamples++;
        tally.goBlank(time);
        return;
      }
      this.steadiness.coupling = tally.coupling;
    }
    if ((flags & NO_DATA) !== 0 || (!over && value !== value)) {
      if ((flags & Flag.rangeHunt) !== 0) tally.huntSamples++;
      tally.goBlank(time);
      return;
    }
    if (!pace.isDeclared && difference > 0 && (pace.isNew(tally.dataSamples) || this.isLearning)) pace.measure(difference);
    tally.flags = flags;
    if (resolution !== tally.resolution && resolution > 0) this.#setResolution(resolution);
    this.#ranges.add(resolution);
    if (tally.isBlank) {
      // A hunt that ends at over-range was already the departure; any other ending makes it a gap.
      const isDeparture = over && this.#watching.openAt(Math.min(time, tally.blankSince + pace.interval));
      if (!isDeparture) this.#gap(tally.blankSince, time);
      tally.blankSince = Number.NaN;
    }
    tally.lastDifference = difference;
    tally.dataSamples++;
    tally.lastDataTime = time;
    this.#watching.watch(time, value, over);
  }

  #setResolution(resolution: number): void {
    this.tally.resolution = resolution;
    this.noise.setCount(resolution);
    this.steadiness.setMeter(resolution, this.#pace.interval);
    this.#watching.renewThreshold();
  }

  #gap(from: number, to: number): void {
    if (!(to > from)) return;
    this.events.addGap(from, to);
    this.steadiness.break();
    if (to - from > LONG_PAUSE * this.#pace.interval) this.#watching.pause(to);
  }
}
