/**
 * Who may talk to the service, and what they may do: own addresses only, pages of its own only, paired devices only, each
 * with a role. Knows nothing of meters or sessions. Read caller.ts, then gate.ts.
 */
export { LOCAL, refuseChange, refused, refuseSharing, ROLES } from './caller.ts';
export { hostsOf, hostText, isLoopback, ownHosts, refuseForeign } from './foreign.ts';
export { LoopbackGate } from './gate.ts';
export { openSharing } from './open-sharing.ts';
export { SharingError } from './sharing-error.ts';
export type { Caller, Refusal, Role } from './caller.ts';
export type { Gate } from './gate.ts';
export type { Sharing, SharingOptions } from './sharing.ts';
export type { SharingErrorCode } from './sharing-error.ts';
