/** Who asks, and what they may do. Pure. */

export const ROLES = ['watch', 'control'] as const;
/** watch: sees everything and changes nothing; control: does what the main screen can, except letting devices in. */
export type Role = (typeof ROLES)[number];

export type Caller =
  /** A page at the service itself, over a loopback address: the main screen. */
  | { readonly kind: 'local' }
  /** A paired device. */
  | { readonly kind: 'device'; readonly device: string; readonly name: string; readonly role: Role };

export interface Refusal {
  readonly kind: 'refused';
  /** HTTP status. */
  readonly status: number;
  readonly code: string;
  /** A sentence that says what to do. */
  readonly message: string;
}

export function refused(status: number, code: string, message: string): Refusal {
  return { kind: 'refused', status, code, message };
}

export const LOCAL: Caller = { kind: 'local' };

/** @returns null when the caller may change something */
export function refuseChange(caller: Caller): Refusal | null {
  if (caller.kind === 'local' || caller.role === 'control') return null;
  return refused(403, 'WATCH_ONLY', 'This device may only watch. To let it control too, change its role in the list of devices on the main screen.');
}

/** @returns null when the caller may let devices in and withdraw them */
export function refuseSharing(caller: Caller): Refusal | null {
  return caller.kind === 'local' ? null : refused(403, 'MAIN_SCREEN_ONLY', 'Devices are let in and withdrawn on the main screen only: the one at the service itself.');
}
