/** Stored samples with their times in seconds, as judged and exported. */
import type { SampleColumns } from '../diagnosis/samples.ts';
import type { StoredSamples } from './stored-samples.ts';

export interface ExactSamples extends SampleColumns {
  /** Counts every sample of the session, all meters, from 1. */
  readonly seq: Float64Array;
  /** Arrival as measured, s on the session clock. */
  readonly arrival: Float64Array;
}

export function toSamples({ length, seq, timeUs, arrivalUs, value, resolution, flags, functionCode }: StoredSamples): ExactSamples {
  return {
    length, seq, value, resolution, flags, functionCode,
    time: timeUs.map((us) => us / 1e6),
    arrival: arrivalUs.map((us) => us / 1e6),
  };
}
