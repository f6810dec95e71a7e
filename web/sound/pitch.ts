/** Which pitch a reading has. Pure. */
import type { Quantity } from '../../drivers/reading.ts';

/** Two octaves, in the middle of what small loudspeakers play. */
export const LOWEST_HZ = 220;
const OCTAVES = 2;
export const HIGHEST_HZ = LOWEST_HZ * 2 ** OCTAVES;

/**
 * Pitch of a reading, Hz: never falls while the reading rises. Small readings are spread out (a square root, for ohms a
 * logarithm), because there a tenth of a volt or an ohm is the fault.
 * @param value SI; Infinity for beyond range
 * @param system nominal voltage of the system, V
 */
export function pitchOf(quantity: Quantity, value: number, system = 12): number {
  return LOWEST_HZ * 2 ** (OCTAVES * heightOf(quantity, Math.abs(value), system));
}

/** Full height at 30 V, which holds 12 V and 24 V systems, at 60 V on 48 V; at 10 A; at 10 megohm. */
function heightOf(quantity: Quantity, size: number, system: number): number {
  if (Number.isNaN(size)) return 0;
  if (quantity === 'resistance') return clamp(Math.log10(Math.max(size, 0.01) / 0.01) / 9);
  return clamp(Math.sqrt(size / (quantity === 'current' ? 10 : system > 24 ? 60 : 30)));
}

function clamp(share: number): number {
  return Math.min(1, Math.max(0, share));
}
