/** Whether this page can reach a meter by itself, and if not, why. Pure but for what is handed in. */

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

/** Tells what stands in the way now, and whenever an adapter is switched on or off. @returns ends it */
export function followAvailability(way: Way, tell: (hindrance: Hindrance | null) => void): () => void {
  const look = (): void => void lookAround(way).then(tell);
  const { bluetooth } = navigator;
  if (way === 'bluetooth') bluetooth?.addEventListener('availabilitychanged', look);
  look();
  return () => bluetooth?.removeEventListener('availabilitychanged', look);
}

async function lookAround(way: Way): Promise<Hindrance | null> {
  const has = navigator[way] !== undefined;
  const hasAdapter = way === 'bluetooth' && has ? await navigator.bluetooth!.getAvailability().catch(() => null) : null;
  return hindranceOf({ isSecure: window.isSecureContext, has, hasAdapter });
}
