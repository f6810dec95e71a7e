/** Samples that are known from their sequence number alone, so that what a killed process left can be checked. */
import { Flag } from '../../../drivers/reading.ts';
import type { SampleBatch } from '../../../server/session/session.ts';
import { emptyBatch } from './samples.ts';

const hash = (seq: number) => Math.imul(seq, 2654435761) >>> 8;

export const valueAt = (seq: number): number => (hash(seq) % 997 === 0 ? NaN : (12000 + (hash(seq) % 7)) / 1000);
export const flagsAt = (seq: number): number => (Number.isNaN(valueAt(seq)) ? Flag.overRange : Flag.autoRange);
export const timeAt = (seq: number): number => seq / 1000;

export function knownBatch(firstSeq: number, size: number, meter: number, take: number): SampleBatch {
  const batch = emptyBatch(size, meter, take, firstSeq);
  for (let i = 0; i < size; i++) {
    const seq = firstSeq + i;
    batch.time[i] = timeAt(seq);
    batch.arrival[i] = timeAt(firstSeq + size - 1);
    batch.value[i] = valueAt(seq);
    batch.resolution[i] = 0.001;
    batch.flags[i] = flagsAt(seq);
    batch.functionCode[i] = 5;
  }
  return batch;
}
