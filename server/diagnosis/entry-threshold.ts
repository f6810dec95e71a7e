/**
 * How far a reading must leave its level: to be looked at (`entry`), to be back (`leave`), to be quiet (`band`), and to be listed
 * in the end (`zOf`), when the noise seen by then has had its say.
 */
import { entryThresholdZ } from './distributions.ts';
import { thresholdFactor } from './noise-scale.ts';
import type { NoiseScale } from './noise-scale.ts';
import type { Pace } from './pace.ts';
import type { QuietLevel } from './quiet-level.ts';
import type { SampleTally } from './sample-tally.ts';
import type { TailLearner } from './tail-learner.ts';

/** Part of the alarm budget that normal noise may use up, and as much again heavier tails; the rest is for noise that changes, and for what nobody foresaw. */
const NOISE_SHARE = 0.1;

export class EntryThreshold {
  readonly #alarmBudget: number;
  readonly #noise: NoiseScale;
  readonly #tail: TailLearner;
  readonly #tally: SampleTally;
  readonly #asksCalmerSide: boolean;
  /** Which way is bad on the number line; 0: both. */
  direction: -1 | 0 | 1 = -1;
  /** For normal noise with an uncertain deviation, in noise deviations: for a first look, and to be listed in the end. */
  readonly #zNormal = [5, 5];
  /** The same for a deviation that is certain. */
  #zCertain: readonly number[] = [5, 5];
  #zReadings = -1;
  /** The same for the noise as it is, and its swing. */
  #zSwing = Number.NaN;
  #zEntry = 5;
  #zListed = 5;
  /** What the tails asked for last, down and up (NaN where not asked yet), and all that it rests on: whoever asks in between must not change what is asked for later. */
  #learned = { down: Number.NaN, up: Number.NaN, excursions: -1, readings: -1, allowed: Number.NaN, step: Number.NaN, swing: Number.NaN };
  /** A departure beyond this is looked at, SI; what is listed must also stand out from the tails learned since. */
  entry = Number.NaN;
  /** Readings closer than this may be skipped, SI. */
  band = 0;
  /** A departure is over when it is smaller than this, SI. */
  leave = 0;

  /**
   * @param alarmBudget  false alarms an hour that are put up with
   * @param asksCalmerSide  while a sensor moves, which of two values is the break is told by their lengths: the calmer side counts for both
   */
  constructor(alarmBudget: number, noise: NoiseScale, tail: TailLearner, tally: SampleTally, asksCalmerSide: boolean) {
    this.#alarmBudget = alarmBudget;
    this.#noise = noise;
    this.#tail = tail;
    this.#tally = tally;
    this.#asksCalmerSide = asksCalmerSide;
  }

  /** Threshold in noise deviations, tails learned so far included. */
  get z(): number { return this.direction === 0 ? Math.min(this.zOf(-1), this.zOf(1)) : this.zOf(this.direction); }

  /** The same for a departure that goes up (> 0) or down. */
  zOf(change: number): number {
    const tails = this.#asksCalmerSide ? Math.min(this.#tailDown(), this.#tailUp()) : change < 0 ? this.#tailDown() : this.#tailUp();
    return Math.max(this.#zListed, tails);
  }

  /** The same without the tails. */
  get zWithoutTails(): number { return this.#zListed; }

  /** Direction or pace have changed: the next `renew` works everything out again. */
  invalidate(): void { this.#zReadings = -1; }

  renew({ interval }: Pick<Pace, 'interval'>, { base, weight }: Pick<QuietLevel, 'base' | 'weight'>): void {
    const { deviation, readings, swing } = this.#noise;
    if (readings !== this.#zReadings) this.#renewNormal(interval, readings);
    if (swing !== this.#zSwing) {
      this.#zSwing = swing;
      this.#zEntry = this.#noise.reach(this.#zNormal[0] as number);
      this.#zListed = this.#noise.reach(this.#zNormal[1] as number);
    }
    // A level that rests on few blocks is itself uncertain.
    const unsure = weight > 20 ? 1 : Math.sqrt(1 + 1 / Math.max(1, weight));
    const count = this.#tally.resolution > 0 ? this.#tally.resolution : 0;
    // A bare 1e-12 of the level keeps a signal without any noise from leaving it by rounding.
    this.entry = Math.max(this.#zEntry * unsure * (deviation || 0), 1.5 * count, 1e-12 * Math.abs(base));
    this.band = this.entry / 2;
    // A level between two counts shows the farther one now and then: that is no departure.
    this.leave = Math.max(this.band, count);
  }

  #renewNormal(interval: number, readings: number): void {
    if (this.#zReadings < 0) {
      const sides = this.direction === 0 ? 2 : 1;
      this.#zCertain = [this.#alarmBudget, NOISE_SHARE * this.#alarmBudget].map((budget) => entryThresholdZ(interval, budget, sides));
    }
    this.#zReadings = readings;
    this.#zSwing = Number.NaN;
    for (let k = 0; k < 2; k++) this.#zNormal[k] = thresholdFactor(this.#zCertain[k] as number, readings);
  }

  /** Threshold for departures down that the tail asks for, in noise deviations: each way asks what noise does the other way. */
  #tailDown(): number {
    const learned = this.#asked();
    if (learned.down !== learned.down) learned.down = this.#askTail(1);
    return learned.down;
  }

  #tailUp(): number {
    const learned = this.#asked();
    if (learned.up !== learned.up) learned.up = this.#askTail(0);
    return learned.up;
  }

  #askTail(control: 0 | 1): number {
    const { readings, allowed, swing, step } = this.#learned;
    return this.#tail.threshold(control, readings, allowed, swing, step);
  }

  /** What was asked with all as it is now. */
  #asked(): { down: number; up: number } {
    const learned = this.#learned;
    const { quietReadings, watched, resolution } = this.#tally;
    const allowed = Math.max(1e-6, (NOISE_SHARE * this.#alarmBudget * watched) / 3600);
    const step = resolution > 0 ? resolution / this.#noise.deviation : 0;
    const { swing } = this.#noise;
    const excursions = this.#tail.total;
    if (learned.excursions === excursions && learned.readings === quietReadings && learned.allowed === allowed && learned.step === step && learned.swing === swing) return learned;
    this.#learned = { down: Number.NaN, up: Number.NaN, excursions, readings: quietReadings, allowed, step, swing };
    return this.#learned;
  }
}
