/** The meters that the service reads, each with its own session clock; readings leave here as dated batches. */
import { AddressError, createMeter, isByteMeter, isForwardedMeter, placeOf, type ByteMeter, type MeterOptions, isSimulatedMeter, type ForwardedLink, NULL_READINGS, nullLeads, type SimulatedMeter } from '../../drivers/index.ts';
import type { Meter, ReadingBatch } from '../../drivers/meter.ts';
import type { LiveMeter } from '../live/protocol.ts';
import { ApertureWatch } from '../session/aperture-watch.ts';
import { SampleClock } from '../session/clock.ts';
import { MeterHabits } from '../session/meter-habits.ts';
import type { MeterProfile } from '../session/meter-profile.ts';
import type { MeterRecord } from '../session/session.ts';
import { identityOf } from './meter-memory.ts';
import { ServiceError } from './service-error.ts';

/** The only circuit that can be simulated. */
export const SCENARIO = 'alder7';
/** After so long without a sample the next one is news, s. */
const NEWS_AFTER = 2;

/** Readings of one chunk with their times. */
export interface DatedReadings {
  readonly meter: number;
  readonly readings: ReadingBatch['readings'];
  /** Session clock, s: end of each sample, and arrival of the chunk. */
  readonly times: Float64Array;
  readonly arrival: number;
}

export interface BenchListener {
  onReadings(dated: DatedReadings): void;
  /** A link, a count or a description changed in a way worth showing. */
  onChanged(): void;
}

interface WiredMeter {
  readonly meter: Meter;
  record: MeterRecord;
  clock: SampleClock;
  lastSampleAt: number | null;
  isAttached: boolean;
  readonly habits: MeterHabits;
  /** While its aperture is being measured. */
  tapping: ApertureWatch | null;
}

/** How long meters may take to close. */
const CLOSE_PATIENCE_MS = 2_000;
/** A frame of samples names its meter in one byte. */
const MOST_METERS = 200;

export class MeterBench {
  #meters: WiredMeter[] = [];
  /** Those that the session at hand names from before and that are not here. */
  #former: readonly MeterRecord[] = [];
  #listener: BenchListener | null = null;
  #startedAt: number;
  readonly #options: () => MeterOptions;

  /** @param options  what meters of every kind are made with: the user's own layouts, recordings to be played */
  constructor(startedAt: number, options: () => MeterOptions) {
    this.#startedAt = startedAt;
    this.#options = options;
  }

  /**
   * One more meter; it is opened at once when the bench is open. Within a session no number is used again.
   * @param known  what the user knows of it; what the address itself says goes first
   * @throws {ServiceError} BAD_ADDRESS, saying what to write instead; TOO_MANY_METERS
   */
  attach(address: string, known: MeterProfile): MeterRecord {
    const index = this.#freeNumber();
    if (index >= MOST_METERS) throw new ServiceError('TOO_MANY_METERS', 'Too many meters have been attached: restart the service.');
    const meter = makeMeter(address, this.#options());
    const { label, simulated, interval, aperture, accuracy, leadOhms, playedAt } = meter.traits;
    const record: MeterRecord = {
      isolated: null, calibrated: '', ...known,
      index, address, simulated,
      label: known.label ?? label, interval: interval ?? known.interval ?? null, aperture: aperture ?? known.aperture ?? null,
      accuracy: (simulated ? known.accuracy ?? accuracy : accuracy ?? known.accuracy) ?? null, leadOhms: leadOhms ?? known.leadOhms ?? null,
      ...(playedAt === undefined ? {} : { playedAt }),
    };
    const wired: WiredMeter = { meter, record, clock: new SampleClock(record), lastSampleAt: null, isAttached: true, habits: new MeterHabits(), tapping: null };
    this.#meters.push(wired);
    if (this.#listener !== null) this.#open(wired, this.#listener);
    return record;
  }

  /** Lets go of a meter at once. What it recorded stays. @returns done when its link is closed, or doesn't close */
  async detach(index: number): Promise<void> {
    const wired = this.#at(index);
    if (wired?.isAttached !== true) return;
    wired.isAttached = false;
    await Promise.race([wired.meter.close(), patience()]);
  }

  /** Whether the meter is there to be read. */
  has(index: number): boolean {
    return this.#at(index)?.isAttached === true;
  }

  /** Every meter of the session, attached or not. */
  records(): MeterRecord[] {
    return [...this.#former, ...this.#meters.map(({ record }) => record)];
  }

  record(index: number): MeterRecord | undefined {
    return this.records().find((own) => own.index === index);
  }

  /**
   * For a session that is gone on with: the numbers that it names are kept for its meters. One at hand that is the same instrument goes
   * on under its number there; any other keeps its own where that is free, else it gets one that is.
   * @returns new numbers by old ones, of the meters whose number is another now
   */
  renumber(named: readonly MeterRecord[]): ReadonlyMap<number, number> {
    const moved = new Map<number, number>();
    this.#meters = this.#meters.filter(({ isAttached }) => isAttached);
    this.#former = named.filter(({ index }) => index < MOST_METERS);
    const strangers: WiredMeter[] = [];
    const move = (wired: WiredMeter, index: number): void => {
      if (wired.record.index !== index) moved.set(wired.record.index, index);
      wired.record = { ...wired.record, index };
    };
    for (const wired of this.#meters) {
      const same = this.#former.findLast(({ address }) => identityOf(address) === identityOf(wired.record.address));
      if (same === undefined) strangers.push(wired);
      else move(wired, same.index);
      this.#former = this.#former.filter((own) => own !== same);
    }
    const known = this.#meters.filter((wired) => !strangers.includes(wired));
    this.#meters = known;
    for (const wired of strangers) {
      if (this.records().some(({ index }) => index === wired.record.index)) move(wired, this.#freeNumber(strangers));
      this.#meters.push(wired);
    }
    return moved;
  }

  /** The attached meter at a place (see `placeOf`), or null. */
  find(place: string): MeterRecord | null {
    return this.#meters.find(({ isAttached, record }) => isAttached && placeOf(record.address) === place)?.record ?? null;
  }

  /** A meter whose bytes can be looked at; null when it is gone or has none. */
  byteMeter(index: number): ByteMeter | null {
    const wired = this.#at(index);
    return wired?.isAttached === true && isByteMeter(wired.meter) ? wired.meter : null;
  }

  /** @throws {ServiceError} BAD_ADDRESS, saying what to write instead */
  check(address: string): void {
    makeMeter(address, this.#options());
  }

  /** Where the bytes of a meter that hangs on a page go in; null when it is gone, or hangs elsewhere. */
  forwardedLink(index: number): ForwardedLink | null {
    const wired = this.#at(index);
    return wired?.isAttached === true && isForwardedMeter(wired.meter) ? wired.meter.link : null;
  }

  simulated(): { readonly index: number; readonly meter: SimulatedMeter }[] {
    return this.#meters.flatMap(({ meter, isAttached, record: { index } }) => (isAttached && isSimulatedMeter(meter) ? [{ index, meter }] : []));
  }

  states(): LiveMeter[] {
    return this.#meters.filter(({ isAttached }) => isAttached).map(({ meter, record, lastSampleAt, clock, habits, tapping }) => ({
      ...record, link: meter.status(), counts: meter.counts(), lastSampleAt,
      measured: habits.measured(clock.interval), tapping: tapping?.standing(clock.interval) ?? null,
    }));
  }

  open(listener: BenchListener): void {
    this.#listener = listener;
    for (const wired of this.#meters) this.#open(wired, listener);
  }

  /** What the user knows of a meter, from now on. @throws {RangeError} when there is no such meter */
  describe(index: number, known: MeterProfile): void {
    const wired = this.#at(index);
    if (wired === undefined) throw new RangeError(`there is no meter ${index}`);
    wired.record = { ...wired.record, ...known };
  }

  /** What the leads read with their tips held together, ohm. @throws {ServiceError} LEADS_NOT_NULLED, saying what to do */
  nullLeads(index: number): number {
    const outcome = nullLeads(this.#at(index)?.habits.newest(NULL_READINGS) ?? []);
    if (outcome.kind === 'refused') throw new ServiceError('LEADS_NOT_NULLED', outcome.why);
    return outcome.leadOhms;
  }

  /** Begins to measure the aperture of a meter by taps, or ends it. */
  measureAperture(index: number, isRunning: boolean): void {
    const wired = this.#at(index);
    if (wired !== undefined) wired.tapping = isRunning ? new ApertureWatch() : null;
  }

  /** Another session is at hand: its clock reads 0 at that time of the monotonic one. */
  restartClock(startedAt: number): void {
    this.#startedAt = startedAt;
    for (const wired of this.#meters) {
      wired.clock = new SampleClock(wired.record);
      wired.lastSampleAt = null;
      wired.tapping = wired.tapping === null ? null : new ApertureWatch();
    }
  }

  /** What an earlier session named is no longer of concern. */
  forgetFormer(): void {
    this.#former = [];
  }

  async close(): Promise<void> {
    this.#listener = null;
    const closed = Promise.all(this.#meters.filter(({ isAttached }) => isAttached).map(({ meter }) => meter.close()));
    await Promise.race([closed, patience()]);
  }

  #at(index: number): WiredMeter | undefined {
    return this.#meters.find(({ record }) => record.index === index);
  }

  #freeNumber(beside: readonly WiredMeter[] = []): number {
    const taken = new Set([...this.records(), ...beside.map(({ record }) => record)].map(({ index }) => index));
    for (let number = 0; ; number++) if (!taken.has(number)) return number;
  }

  #open(wired: WiredMeter, listener: BenchListener): void {
    wired.meter.open({
      onReadings: (batch) => {
        const isNews = this.#date(wired, batch, listener);
        if (isNews) listener.onChanged();
      },
      onStatus: ({ state }) => {
        // What arrives after a break has nothing to do with the grid of before.
        if (state === 'gone') wired.clock.restart();
        listener.onChanged();
      },
    });
  }

  /** @returns true when the meter had been quiet */
  #date(wired: WiredMeter, { arrival, readings }: ReadingBatch, listener: BenchListener): boolean {
    const at = arrival - this.#startedAt;
    const times = new Float64Array(readings.length);
    wired.clock.date(at, readings.length, times);
    // As they are stored, so that the file is judged by the same times.
    for (let i = 0; i < times.length; i++) times[i] = Math.round(times[i]! * 1e6) / 1e6;
    const isNews = wired.lastSampleAt === null || at - wired.lastSampleAt > NEWS_AFTER;
    wired.lastSampleAt = times[times.length - 1] ?? wired.lastSampleAt;
    wired.habits.push(readings);
    wired.tapping?.push(readings, times);
    listener.onReadings({ meter: wired.record.index, readings, times, arrival: at });
    return isNews;
  }
}

/** A port that hung up with a read in flight may never say that it is closed: nothing must wait for it. */
function patience(): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, CLOSE_PATIENCE_MS).unref());
}

/** Whether `attach` would take it. */
export function isMeterAddress(address: string, options: MeterOptions): boolean {
  try {
    makeMeter(address, options);
    return true;
  } catch {
    return false;
  }
}

function makeMeter(address: string, options: MeterOptions): Meter {
  try {
    const meter = createMeter(address, options);
    if (isSimulatedMeter(meter) && meter.scenario !== SCENARIO) {
      throw new AddressError(`There is no simulation "${meter.scenario}"; write simulated:${SCENARIO}`);
    }
    return meter;
  } catch (error) {
    if (!(error instanceof AddressError)) throw error;
    throw new ServiceError('BAD_ADDRESS', `${address}: ${error.message}`, { cause: error });
  }
}
