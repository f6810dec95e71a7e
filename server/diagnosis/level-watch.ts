/**
 * Readings beside a level: what is quiet teaches level and noise, what leaves it is a departure, and changes that last are followed.
 *
 *   learning -> quiet <-> away -> returned -> (merge time) -> dropout or sag
 *                 |          \-> shift (away too long), or a shallow plateau that is followed
 *                 \-> risen (a persistent change the good way, followed)
 */
import { badDirection, readsNothing } from './check-traits.ts';
import { DepartureWatch } from './departure-watch.ts';
import type { Departure } from './departure.ts';
import { FirstLook } from './first-look.ts';
import { leadsBack, LoadsOff, mayLeadBack } from './loads-off.ts';
import { middleValue } from './noise-scale.ts';
import { OverRangeLevel } from './over-range-level.ts';
import { countOf, PlateauTrial } from './plateau-trial.ts';
import { QuietLevel } from './quiet-level.ts';
import { QuietReadings } from './quiet-readings.ts';
import { Resettling } from './resettling.ts';
import { Rise } from './rise.ts';
import { extend } from './run.ts';
import type { Run } from './run.ts';
import type { SampleColumns } from './samples.ts';
import { SideExcursions } from './side-excursions.ts';
import { shiftAfter } from './watching.ts';
import type { Watching, WatchParts } from './watching.ts';

/** Blocks that a level weighs which was just found. */
const NEW_WEIGHT = 2;
/** Readings on a plateau, and of the newest ones that must agree. */
const PLATEAU = 3;

/** A level change that is followed while it may still go back. */
interface Excursion {
  readonly start: number;
  readonly from: number;
  /** Signed largest difference from `from`, SI. */
  change: number;
  readonly isBad: boolean;
}

export class LevelWatch implements Watching {
  readonly #parts: WatchParts;
  readonly #level: QuietLevel;
  readonly #departures: DepartureWatch;
  readonly #overRange: OverRangeLevel;
  readonly #resettling = new Resettling();
  readonly #excursions: SideExcursions;
  readonly #quiet: QuietReadings;
  readonly #rise: Rise;
  readonly #loadsOff: LoadsOff;
  readonly #shiftAfter: number;
  /** What noise was felt before the excursion the good way that is under way. */
  #feltBefore = Number.NaN;
  #learning: FirstLook | null = new FirstLook();
  /** Readings near the level, but not back at it. */
  #near: Run | null = null;
  #excursion: Excursion | null = null;
  /** Where the departure under way stands. */
  #trial: PlateauTrial | null = null;

  constructor(parts: WatchParts) {
    this.#parts = parts;
    this.#level = new QuietLevel(parts.pace);
    this.#departures = new DepartureWatch(parts);
    this.#overRange = new OverRangeLevel(parts, this.#departures);
    this.#excursions = new SideExcursions(parts.tail, parts.noise, parts.pace);
    this.#quiet = new QuietReadings(parts, this.#level, this.#departures, this.#excursions);
    this.#rise = new Rise(parts.pace, parts.threshold);
    this.#shiftAfter = shiftAfter(parts.setup);
    this.#loadsOff = new LoadsOff(parts.setup.limits, this.#shiftAfter);
  }

  get level(): number { return this.#learning?.level ?? (this.#level.isOverRange ? Number.NaN : this.#level.value); }
  get isOverRange(): boolean { return this.#level.isOverRange; }
  get isLearning(): boolean { return this.#learning !== null; }
  get away(): Departure | null { return this.#departures.away; }
  get awayValue(): number { return this.#departures.awayValue; }
  get pending(): Departure | null { return this.#departures.pending; }
  get onTrial(): readonly Departure[] { return this.#trial?.returned ?? []; }
  get plateau(): Excursion | null { return this.#excursion?.isBad === true ? this.#excursion : null; }

  renewThreshold(): void {
    this.#level.setCount(this.#parts.tally.resolution);
    if (this.#learning === null) this.#renewThreshold();
  }

  #renewThreshold(): void { this.#parts.threshold.renew(this.#parts.pace, this.#level); }

  pause(time: number): void {
    if (this.#learning !== null || this.#level.isOverRange) return;
    this.#level.pause(time);
    this.#renewThreshold();
  }

  openAt(time: number): boolean {
    if (this.#level.isOverRange || this.#learning !== null) return false;
    if (this.away === null) this.#depart(time, Number.NaN, Infinity, Infinity, true);
    return true;
  }

  get canSkip(): boolean {
    const { returned } = this.#departures;
    return this.#parts.pace.blockSize > 1 && this.#learning === null && !this.#level.isOverRange && this.away === null && !this.#rise.isUnderWay &&
      // What has returned needs some quiet readings more; and the level's slope, while it was away, may have come to where it is believed no further.
      (returned === null || (returned.hasEnded && this.#level.slope === 0));
  }

  /** Takes quiet readings up to the end of the block. @returns index of the first that needs a closer look */
  skip(samples: SampleColumns, from: number, to: number): number {
    const { band } = this.#parts.threshold;
    // Beside a departure every excursion is noted.
    if (this.#departures.returned !== null) {
      const next = this.#quiet.near(samples, from, this.#departures.fileIndex(samples, from, to), Math.min(band, this.#excursions.least));
      if (next > from && this.#level.isFull) this.#endBlock();
      return next;
    }
    let next = from;
    do {
      const at = next;
      next = this.#quiet.near(samples, at, to, band);
      if (next > at && this.#level.isFull) break;
      if (next === to || !this.#quiet.far(samples, next, this.plateau !== null)) return next;
      next++;
    } while (next < to && !this.#level.isFull);
    if (this.#level.isFull) this.#endBlock();
    return next;
  }

  watch(time: number, value: number, over: boolean): void {
    if (this.#learning !== null) this.#learn(this.#learning, time, value, over);
    else if (this.#level.isOverRange) this.#watchOverRange(time, value, over);
    else this.#watchLevel(time, value, over);
  }

  #learn(look: FirstLook, time: number, value: number, over: boolean): void {
    const { tally, pace, noise, steadiness } = this.#parts;
    look.add(time, value, over);
    if (!over) steadiness.add(time, 1, value, 0);
    if (!look.isFull || pace.interval !== pace.interval) return;
    this.#learning = null;
    const { readings } = look;
    if (look.isOverRange) this.#level.isOverRange = true;
    else {
      look.teach(noise);
      this.#restartLevel((readings[0] as { time: number }).time - pace.interval, look.level);
    }
    tally.dataSamples -= readings.length;
    for (const reading of readings) {
      tally.dataSamples++;
      this.watch(reading.time, reading.value, reading.over);
    }
  }

  #restartLevel(time: number, value: number): void {
    const { setup, tally, threshold } = this.#parts;
    this.#resettling.interrupt();
    this.#loadsOff.levelMoved();
    const direction = badDirection(setup.kind, tally.quantity ?? 'voltage', setup.limits, value);
    threshold.direction = direction === 'down' ? -1 : direction === 'up' ? 1 : 0;
    threshold.invalidate();
    this.#level.restart(time, value, NEW_WEIGHT);
    this.#renewThreshold();
  }

  #watchOverRange(time: number, value: number, over: boolean): void {
    const outcome = this.#overRange.watch(time, value, over);
    if (outcome === 'away') this.#leaveQuiet();
    else if (outcome === 'back') this.#resettling.watch(this.#departures.returned as Departure);
    else if (outcome === 'shift') this.#shift(this.away as Departure);
    else if (outcome !== null) {
      this.#parts.events.addShift(outcome.first - this.#parts.pace.interval / 2, Number.NaN, outcome.sum / outcome.n);
      this.#restartLevel(time, outcome.sum / outcome.n);
    }
  }

  #watchLevel(time: number, value: number, over: boolean): void {
    const { threshold } = this.#parts;
    this.#departures.fileBefore(time);
    const change = over ? Infinity : value - this.#level.predict(time);
    const size = over ? Infinity : threshold.direction === 0 ? Math.abs(change) : threshold.direction * change;
    if (this.away !== null) {
      this.#watchAway(this.away, time, value, change, size, over);
      return;
    }
    if (size > threshold.entry) {
      this.#rise.forget();
      this.#depart(time, value, change, size, over);
      return;
    }
    if (size < -threshold.entry || this.#rise.holds(-size)) {
      this.#watchGood(time, value, -size);
      return;
    }
    if (this.#rise.isUnderWay) this.#endGood(time);
    this.#departures.returned?.addQuiet(time, size);
    this.#quiet.add(time, value, change, this.plateau !== null);
    if (this.#level.isFull) this.#endBlock();
  }

  #endBlock(): void {
    const { tally, pace, noise, steadiness } = this.#parts;
    const block = this.#level.takeBlock(tally);
    const { n, mean, off, end, squares, picked } = block;
    if (picked === picked) noise.add(picked);
    noise.feel(off * off + squares / n, n);
    this.#settleNoise(end);
    steadiness.add(end, n, mean, squares);
    if (this.#resettling.add(mean, n, mean - off, tally.resolution)) this.#passThrough();
    if (!pace.isDeclared && !pace.isNew(tally.dataSamples) && tally.lastDifference > 0) pace.measure(tally.lastDifference);
    this.#level.follow(block);
    this.#renewThreshold();
    const excursion = this.#excursion;
    if (excursion !== null && end - excursion.start > this.#shiftAfter) this.#settleExcursion(excursion);
  }

  /** What was large against the noise before may be none against the noise as it is felt now. */
  #settleNoise(time: number): void {
    this.#excursions.settle(time);
    this.#departures.settleNoise(time);
  }

  // Departures.

  #leaveQuiet(): void {
    this.#level.dropBlock();
    this.#resettling.interrupt();
    this.#near = null;
  }

  #depart(time: number, value: number, change: number, size: number, over: boolean): void {
    this.#leaveQuiet();
    const level = this.#level.predict(time);
    const away = this.#departures.depart(time, value, change, size, over, level);
    this.#trial = new PlateauTrial(this.#parts, this.#loadsOff, level);
    this.#trial.watch(time, value, over);
    this.#loadsOff.refine(level);
    away.waysBack = this.#loadsOff.waysBack(time, this.#parts.threshold.entry);
  }

  #watchAway(away: Departure, time: number, value: number, change: number, size: number, over: boolean): void {
    const { threshold, events, pace } = this.#parts;
    const { entry } = threshold;
    if (!over && size < threshold.leave) {
      this.#near = null;
      if (size < -entry) away.opposite = Math.max(away.opposite, -size);
      this.#comeBack(away).addQuiet(time, size);
      this.#departures.keepLast(time, value);
      if (Math.abs(change) < entry) {
        this.#quiet.teach(time, change);
        if (this.#level.isFull) this.#endBlock();
      } else this.#watchGood(time, value, Math.abs(change));
      return;
    }
    const interest = events.depthAt(this.level);
    const nearEnough = Math.min(interest, Math.max(away.peak > interest ? 0.5 * interest : 0, 0.3 * away.peak));
    if (!over && size < Math.max(away.peak > 2 * entry ? entry : 0, nearEnough)) {
      const near = extend(this.#near, time, value, size);
      this.#near = near;
      away.addNear(time, size);
      if (near.n >= PLATEAU && near.last - near.first >= Math.min(0.1, 4 * pace.interval)) {
        away.forgetNear();
        this.#comeBack(away);
        this.#followTo(near, away.level);
      }
      return;
    }
    this.#near = null;
    this.#departures.add(away, time, value, change, size, over);
    this.#trial?.watch(time, value, over);
    away.hasStood ||= this.#trial?.stands === true;
    if (time - away.first > this.#shiftAfter) {
      this.#shift(away);
      return;
    }
    if (away.readings >= PLATEAU) this.#followPlateau(away, interest);
  }

  /** @returns the departure that has come back, with those merged into it */
  #comeBack(away: Departure): Departure {
    const trial = this.#trial;
    this.#trial = null;
    const dropouts = trial?.dropouts ?? [];
    const apart = dropouts.filter((departure) => trial?.isDwarfedBy(departure));
    // All of it was one departure, but for what stands apart.
    away.count += countOf(dropouts) - countOf(apart);
    if (trial !== null && apart.length > 0) away.cutTo(Math.abs(trial.level - away.level));
    const returned = this.#departures.comeBack(away);
    this.#resettling.watch(returned);
    if (apart.length > 0) {
      this.#departures.fileReturned();
      for (const departure of apart) this.#parts.events.file(departure);
    }
    return returned;
  }

  /** A shallow departure that stays put is followed, so that a dropout on top of it is seen; so is the way back from a change the good way. */
  #followPlateau(away: Departure, interest: number): void {
    const { threshold, pace, events } = this.#parts;
    const isShallow = away.peak < interest;
    if (!isShallow && !mayLeadBack(away.waysBack, away.peak)) return;
    const recent = this.#departures.recent.slice(-PLATEAU);
    const spread = Math.max(...recent) - Math.min(...recent);
    if (!(spread < threshold.entry) || away.last - away.first < Math.min(pace.mergeTime, 4 * pace.interval)) return;
    const value = middleValue(Float64Array.from(recent), recent.length);
    const excursion = this.#excursion;
    const way = leadsBack(away.waysBack, Math.abs(value - away.level));
    const under = excursion?.isBad === true ? excursion.from : away.level;
    if (way === undefined && !(isShallow && Math.abs(value - under) < interest)) return;
    if (way !== undefined) this.#loadsOff.cameBack(way);
    this.#departures.abandon();
    this.#trial = null;
    this.#near = null;
    if (excursion !== null && Math.abs(value - excursion.from) <= threshold.entry) this.#excursion = null;
    else if (excursion !== null) excursion.change = value - excursion.from;
    else this.#excursion = { start: events.startOf(away), from: away.level, change: value - away.level, isBad: true };
    this.#restartLevel(away.last, value);
  }

  /** The signal came back, but not quite to its old level: what is left is followed. */
  #followTo(near: Run, from: number): void {
    const value = near.sum / near.n;
    this.#near = null;
    if (this.#excursion === null) this.#excursion = { start: near.first, from, change: value - from, isBad: this.#parts.threshold.direction * (value - from) > 0 };
    this.#restartLevel(near.last, value);
  }

  /** The dip that has just ended led to another level: loads that changed over, and no dropout unless it was deep. */
  #passThrough(): void {
    const { events } = this.#parts;
    const departure = this.#resettling.take();
    if (departure === null || departure.overRange || !(departure.peak < events.depthAt(departure.level))) return;
    const outcome = events.classify(departure);
    if (outcome === null || !('departure' in outcome)) return;
    departure.isWithdrawn = true;
    events.sags.add({ start: outcome.start, end: outcome.end, depth: departure.peakChange });
  }

  #shift(away: Departure): void {
    const { events } = this.#parts;
    const trial = this.#trial;
    const value = trial?.stands === true ? trial.level : this.#departures.awayValue;
    this.#departures.abandon();
    this.#trial = null;
    this.#near = null;
    this.#excursion = null;
    events.addShift(events.startOf(away), away.level, value);
    if (Number.isFinite(value)) {
      this.#restartLevel(away.last, value);
      if (trial === null) return;
      for (const part of trial.filed) events.file(part);
      this.#departures.takeOver(trial.departures);
      this.#trial = trial.upper;
      return;
    }
    this.#level.isOverRange = true;
    this.#level.dropBlock();
    this.#rise.forget();
  }

  /** The followed change has lasted: it is the level now. */
  #settleExcursion(excursion: Excursion): void {
    this.#excursion = null;
    const to = this.#level.value;
    if (Math.abs(to - excursion.from) > this.#parts.threshold.entry) this.#parts.events.addShift(excursion.start, excursion.from, to);
  }

  // The good way.

  #watchGood(time: number, value: number, size: number): void {
    const { pace, threshold, tally, events, steadiness, noise } = this.#parts;
    this.#departures.noteOpposite(time, size);
    if (!this.#rise.isUnderWay) {
      this.#level.dropBlock();
      this.#feltBefore = noise.felt;
    }
    const risen = this.#rise.add(time, value, size);
    noise.feel(size * size, 1);
    this.#settleNoise(time);
    this.#renewThreshold();
    if (risen === null) return;
    if (this.#rise.isStill) noise.felt = this.#feltBefore;
    const to = risen.sum / risen.n;
    const start = risen.first - pace.interval / 2;
    steadiness.break();
    const excursion = this.#excursion;
    const before = this.#level.base;
    this.#loadsOff.refine(before);
    this.#departures.fileReturned();
    if (this.#resettling.settleAt(to, tally.resolution)) this.#passThrough();
    if (excursion === null) {
      this.#excursion = { start, from: before, change: to - before, isBad: false };
    } else if (excursion.isBad && threshold.direction * (to - excursion.from) < threshold.entry) {
      events.sags.add({ start: excursion.start, end: start, depth: excursion.change });
      this.#excursion = null;
    }
    this.#restartLevel(time, to);
    // A step, and no interference.
    this.#departures.forgetOpposite();
    this.#loadsOff.add(start, before, to);
  }

  /** The excursion the good way went back by itself: it was noise, and says how far noise reaches, unless it went to nothing, as a drop does whose load is off for a moment. */
  #endGood(time: number): void {
    const { noise, threshold, tally } = this.#parts;
    const peak = this.#rise.end();
    const change = -threshold.direction * peak;
    if (!(noise.deviation > 0) || peak === 0 || !this.#quiet.showsNoise(change, this.plateau !== null)) return;
    const level = this.#level.predict(time);
    if (readsNothing(level + change, level, noise.deviation, threshold.entry)) return;
    this.#excursions.note(time, change);
    if (!this.#rise.countHit(tally.dataSamples)) return;
    this.#departures.fileReturned();
    this.#learning = new FirstLook();
    noise.restart();
    this.#excursion = null;
    this.#level.dropBlock();
  }
}
