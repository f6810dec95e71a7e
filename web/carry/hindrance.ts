/** Whether a page can reach a meter by itself, and if not, why. Pure. */

export type Way = 'bluetooth' | 'serial';
export type Hindrance =
  /** Browsers give such things to pages from HTTPS or from the device itself only. */
  | 'insecure'
  /** The browser has no such thing, or it is switched off. */
  | 'missing'
  | 'no-adapter';

export interface Surroundings {
  readonly isSecure: boolean;
  readonly has: boolean;
  /** Whether the device has an adapter that is switched on; null when that is not told. */
  readonly hasAdapter: boolean | null;
}

/** @returns null when nothing stands in the way */
export function hindranceOf({ isSecure, has, hasAdapter }: Surroundings): Hindrance | null {
  if (!isSecure) return 'insecure';
  if (!has) return 'missing';
  return hasAdapter === false ? 'no-adapter' : null;
}
