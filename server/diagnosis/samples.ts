/** Samples by column: the form in which they are judged, sent and stored. Pure. */

export interface SampleColumns {
  readonly length: number;
  /** End of each sample on the session clock, s, strictly rising within a take and meter. Whole microseconds. */
  readonly time: Float64Array;
  /** SI; NaN when over-range or blank. */
  readonly value: Float64Array;
  /** Value of one count, SI; NaN when not known. */
  readonly resolution: Float64Array;
  /** Bits of `Flag` in drivers/reading. */
  readonly flags: Uint16Array;
  /** Quantity and coupling: `functionCode` in drivers/reading. */
  readonly functionCode: Uint8Array;
}
