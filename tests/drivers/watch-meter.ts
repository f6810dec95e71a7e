/** Opens a meter and keeps what it says, for tests. */
import { createMeter, type LinkStatus, type Meter, type MeterOptions, type ReadingBatch } from '../../drivers/index.ts';

export interface WatchedMeter {
  readonly meter: Meter;
  readonly batches: ReadingBatch[];
  readonly statuses: LinkStatus[];
  values(): number[];
}

export function watchMeter(meterOrAddress: string | Meter, options: MeterOptions = {}): WatchedMeter {
  const meter = typeof meterOrAddress === 'string' ? createMeter(meterOrAddress, options) : meterOrAddress;
  const batches: ReadingBatch[] = [];
  const statuses: LinkStatus[] = [];
  meter.open({ onReadings: (batch) => void batches.push(batch), onStatus: (status) => void statuses.push(status) });
  return { meter, batches, statuses, values: () => batches.flatMap((batch) => batch.readings.map((reading) => reading.value)) };
}

/** Waits for something to become true. @throws when it has not after 30 s */
export async function until(isTrue: () => boolean, what: string): Promise<void> {
  const patience = Date.now() + 30_000;
  while (!isTrue()) {
    if (Date.now() > patience) throw new Error(`waited 30 s for ${what}`);
    await new Promise((resolve) => setTimeout(resolve, 5));
  }
}
