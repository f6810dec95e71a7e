/** What stands between this page and the meters of its device, as the browser tells it. */
import { hindranceOf, type Hindrance, type Way } from './hindrance.ts';

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
