/** Version of what judges: goes up whenever the same samples may be judged differently than before, with what is different. */
export const ALGORITHM = '2';

/** What each version judges differently from the one before it, as told to whoever opens an older recording. */
export const ALGORITHM_CHANGES: readonly { readonly version: string; readonly change: string }[] = [
  { version: '2', change: 'Noise and level are learned alike however the readings were cut on their way.' },
];
