/** A session with one very long take, written as a recorder writes it. */
import { rmSync } from 'node:fs';
import { Flag } from '../../../drivers/reading.ts';
import { BLOCK_SAMPLES } from '../../../server/recordings/columns/block.ts';
import { SessionWriter } from '../../../server/recordings/session-writer.ts';
import { canonicalBatch } from '../../../server/recordings/stored-samples.ts';
import { emptyBatch, gaussian, INFO, JUDGEMENT, METER, randomNumbers, takeRecord } from '../../recordings/support/samples.ts';

export interface LongTake {
  readonly samples: number;
  readonly interval: number;
  /** One-sample dropouts, each of its own depth. */
  readonly dropouts: readonly { readonly at: number; readonly value: number }[];
}

/** A supply watched at 10,000 samples a second, with a one-sample dropout about every million samples. */
export function writeLongTake(path: string, samples: number, seed: number): LongTake {
  rmSync(path, { force: true });
  const random = randomNumbers(seed);
  // Drawn once: a Gaussian for each of 100 million samples would take longer than writing them.
  const noise = Int8Array.from({ length: 65_537 }, () => Math.round(1.5 * gaussian(random)));
  const interval = 1e-4;
  const writer = new SessionWriter(path, INFO, [{ ...METER, interval }]);
  writer.commit([{ type: 'start-take', take: takeRecord(1, { watching: 'road' }) }]);
  const dropouts: { at: number; value: number }[] = [];
  for (let first = 0; first < samples; first += BLOCK_SAMPLES) {
    const n = Math.min(BLOCK_SAMPLES, samples - first);
    const batch = emptyBatch(n, 0, 1, first + 1);
    const shift = Math.floor(random() * 65_537);
    for (let i = 0; i < n; i++) {
      const at = (first + i + 1) * 100;
      batch.time[i] = at / 1e6;
      batch.arrival[i] = (Math.ceil((first + i + 1) / 500) * 50_000 + 700) / 1e6;
      batch.value[i] = (12_100 + noise[(i * 7 + shift) % 65_537]! + Math.round(5 * Math.sin(at / 25_000))) / 1000;
      batch.resolution[i] = 0.001;
      batch.flags[i] = Flag.autoRange;
      batch.functionCode[i] = 5;
    }
    if (random() < BLOCK_SAMPLES / 1e6) {
      const i = Math.floor(random() * n);
      batch.value[i] = Math.round(random() * 11_000) / 1000;
      dropouts.push({ at: batch.time[i]!, value: batch.value[i]! });
    }
    writer.commit([{ type: 'samples', take: 1, meter: 0, bytes: canonicalBatch(batch) }]);
    while (writer.sealNext());
  }
  writer.commit([{ type: 'end-take', take: takeRecord(1, { watching: 'road', end: samples * interval, ending: 'stopped' }), judgement: JUDGEMENT }]);
  writer.finish();
  return { samples, interval, dropouts };
}
