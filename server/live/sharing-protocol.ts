/**
 * What pages and the service say to each other about sharing, over HTTP. Types only, shared with the browser.
 *
 *   GET    /api/access                        Access, or 401 with a sentence
 *   POST   /api/pairing           Pairing     Access and the token as a cookie, or 403 or 429 with a sentence; needs no token
 *   GET    /workshop-authority.crt            certificate to trust; needs no token
 *
 * On the main screen only:
 *
 *   GET    /api/sharing                       SharingState
 *   POST   /api/sharing/code      { role }    SharingState, with a new code
 *   DELETE /api/sharing/code                  SharingState
 *   POST   /api/sharing/devices/:id  { role } SharingState
 *   DELETE /api/sharing/devices/:id           SharingState; the device's pages are closed at once
 */
import type { Role } from './access/caller.ts';

/** Why a pairing code is no longer good. */
export type CodeEnd = 'used' | 'expired' | 'closed' | 'guessed';

/** What the asking page may do. */
export interface Access {
  readonly role: Role;
  /** The page is at the service itself: it may let devices in. */
  readonly isMainScreen: boolean;
  /** Name of the device; empty for the main screen. */
  readonly name: string;
}

export interface Pairing {
  readonly code: string;
  /** What the user calls the device. */
  readonly name: string;
}

export interface PairedDevice {
  readonly id: string;
  readonly name: string;
  readonly role: Role;
  /** ISO 8601. */
  readonly pairedAt: string;
  readonly lastSeenAt: string | null;
  /** Dashboards that it has open now. */
  readonly open: number;
}

export type SharingState =
  | { readonly isShared: false }
  | {
      readonly isShared: true;
      /** Where devices find the service; empty while this machine is in no private network. */
      readonly addresses: readonly { readonly url: string; readonly network: string }[];
      /** SHA-256 of the authority's certificate, as systems show it. */
      readonly fingerprint: string;
      readonly pairing: { readonly code: string; readonly role: Role; /** s */ readonly expiresIn: number } | null;
      /** What became of the last code. */
      readonly lastCode: CodeEnd | null;
      readonly devices: readonly PairedDevice[];
    };

export type { Role };
