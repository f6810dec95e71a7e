/** What each kind of check means for the detector: which way is bad, what depth matters, what the meter should be set to. */
import type { Quantity } from '../../drivers/reading.ts';
import type { CheckKind, Limits } from './judgement.ts';

/** Where a dropout takes the reading; `down` and `up` are on the number line. */
export type BadDirection = 'down' | 'up' | 'both';

/**
 * Which way a dropout moves the reading of this check. An over-range reading is a departure whatever the direction, unless it is the level.
 * @param level  the quiet reading, SI; a supply that reads negative (leads swapped) falls towards zero, so upwards
 */
export function badDirection(kind: CheckKind, quantity: Quantity, limits: Limits, level: number): BadDirection {
  switch (kind) {
    case 'supply': case 'switched-supply': return level < 0 ? 'up' : 'down';
    case 'ground': case 'voltage-drop': case 'continuity': case 'resistance': return 'up';
    // Blade to blade a dropout raises the reading; blade to ground, with a lowest supply as limit, it lowers it.
    case 'fuse': return quantity === 'voltage' && limits.low !== null && limits.high === null ? 'down' : 'up';
    case 'short-to-ground': case 'short-to-supply': case 'short-between': return quantity === 'voltage' ? 'up' : 'down';
    case 'current': case 'sensor-sweep': return 'both';
  }
}

/** Shallowest plateau that counts as a dropout when nobody set one: 1 ohm, else 5 % of the level. SI. */
export function depthOfInterest(quantity: Quantity, level: number): number {
  return quantity === 'resistance' ? 1 : 0.05 * Math.abs(level);
}

/** A reading of nothing, within noise or 5 % of a level that stands clear of it: what an open circuit takes a supply or a current to, and a load that is off takes a drop to. @param noise  s, SI @param threshold  of a departure, SI */
export function readsNothing(value: number, level: number, noise: number, threshold: number): boolean {
  return Math.abs(level) > 2 * threshold && Math.abs(value) < Math.max(3 * noise, 0.05 * Math.abs(level));
}

/** True where an open circuit is the healthy reading: nothing must touch. */
export function isShortCheck(kind: CheckKind): boolean {
  return kind === 'short-to-ground' || kind === 'short-to-supply' || kind === 'short-between';
}

const VOLTS: readonly Quantity[] = ['voltage'];
const OHMS: readonly Quantity[] = ['resistance'];
const EITHER: readonly Quantity[] = ['voltage', 'resistance'];

/** What the meter may be set to for this check; empty when anything goes. */
export function expectedQuantities(kind: CheckKind): readonly Quantity[] {
  switch (kind) {
    case 'supply': case 'switched-supply': case 'voltage-drop': return VOLTS;
    case 'ground': case 'fuse': case 'short-to-supply': return EITHER;
    case 'short-to-ground': case 'short-between': case 'continuity': case 'resistance': return OHMS;
    case 'current': return ['current'];
    case 'sensor-sweep': return [];
  }
}
