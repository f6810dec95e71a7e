/** The meters that the service reads, each with its own session clock; readings leave here as dated batches. */
import { AddressError, createMeter, isSimulatedMeter, type SimulatedMeter } from '../../drivers/index.ts';
import type { Meter, ReadingBatch } from '../../drivers/meter.ts';
import type { LiveMeter } from '../live/protocol.ts';
import { SampleClock } from '../session/clock.ts';
import type { MeterRecord } from '../session/session.ts';
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
}

export class MeterBench {
  readonly #meters: WiredMeter[];
  #startedAt: number;

  /** @throws {ServiceError} BAD_ADDRESS, saying what to write instead */
  constructor(addresses: readonly string[], startedAt: number) {
    this.#startedAt = startedAt;
    this.#meters = addresses.map((address, index) => {
      const meter = makeMeter(address);
      const { traits } = meter;
      return {
        meter,
        record: {
          index, address, label: traits.label, simulated: traits.simulated, interval: traits.interval, aperture: traits.aperture,
          accuracy: traits.accuracy, leadOhms: traits.leadOhms,
        },
        clock: new SampleClock(traits),
        lastSampleAt: null,
      };
    });
  }

  records(): MeterRecord[] {
    return this.#meters.map(({ record }) => record);
  }

  simulated(): SimulatedMeter[] {
    return this.#meters.map(({ meter }) => meter).filter(isSimulatedMeter);
  }

  states(): LiveMeter[] {
    return this.#meters.map(({ meter, record, lastSampleAt }) => ({ ...record, link: meter.status(), counts: meter.counts(), lastSampleAt }));
  }

  open(listener: BenchListener): void {
    for (const wired of this.#meters) {
      wired.meter.open({
        onReadings: (batch) => {
          const isNews = this.#date(wired, batch, listener);
          if (isNews) listener.onChanged();
        },
        onStatus: () => listener.onChanged(),
      });
    }
  }

  /** @returns the record as it is now, or null when there is no such meter */
  describe(index: number, known: Partial<Pick<MeterRecord, 'accuracy' | 'interval' | 'aperture' | 'leadOhms'>>): MeterRecord | null {
    const wired = this.#meters[index];
    if (wired === undefined) return null;
    wired.record = { ...wired.record, ...known };
    return wired.record;
  }

  /** A new session begins: its clock starts at 0. */
  restartClock(startedAt: number): void {
    this.#startedAt = startedAt;
    for (const wired of this.#meters) {
      wired.clock = new SampleClock(wired.record);
      wired.lastSampleAt = null;
    }
  }

  async close(): Promise<void> {
    await Promise.all(this.#meters.map(({ meter }) => meter.close()));
  }

  /** @returns true when the meter had been quiet */
  #date(wired: WiredMeter, { arrival, readings }: ReadingBatch, listener: BenchListener): boolean {
    const at = arrival - this.#startedAt;
    const times = new Float64Array(readings.length);
    wired.clock.date(at, readings.length, times);
    const isNews = wired.lastSampleAt === null || at - wired.lastSampleAt > NEWS_AFTER;
    wired.lastSampleAt = times[times.length - 1] ?? wired.lastSampleAt;
    listener.onReadings({ meter: wired.record.index, readings, times, arrival: at });
    return isNews;
  }
}

function makeMeter(address: string): Meter {
  try {
    const meter = createMeter(address);
    if (isSimulatedMeter(meter) && meter.scenario !== SCENARIO) {
      throw new AddressError(`There is no simulation "${meter.scenario}"; write simulated:${SCENARIO}`);
    }
    return meter;
  } catch (error) {
    if (!(error instanceof AddressError)) throw error;
    throw new ServiceError('BAD_ADDRESS', `--meter ${address}: ${error.message}`, { cause: error });
  }
}
