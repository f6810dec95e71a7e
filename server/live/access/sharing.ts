/** Sharing with other devices: the listener, its gate, pairing and the list of devices, put together. */
import type { IncomingHttpHeaders } from 'node:http';
import type { SharingState } from '../sharing-protocol.ts';
import type { Caller, Refusal, Role } from './caller.ts';
import { CertificateFolder } from './certificate-folder.ts';
import { Devices } from './devices.ts';
import { refuseForeign } from './foreign.ts';
import type { Gate } from './gate.ts';
import { PairingDesk } from './pairing.ts';
import { SharedListener } from './shared-listener.ts';
import { tokenCookie, tokenOf } from './token-cookie.ts';

export interface SharingOptions {
  /** Serve this address only; null for every private one of this machine. */
  readonly address: string | null;
  /** Keeps certificates and devices; made when missing. */
  readonly folder: string;
  readonly openDevices: () => ReadonlyMap<string, number>;
  /** Closes every websocket of a device at once. */
  readonly closePages: (device: string, reason: string) => void;
}

/** Devices were seen: noted in the file this often. */
const SAVE_EVERY_MS = 600_000;

export class Sharing implements Gate {
  readonly listener: SharedListener;
  readonly #options: SharingOptions;
  readonly #certificates: CertificateFolder;
  readonly #devices: Devices;
  readonly #desk = new PairingDesk();
  readonly #timer: NodeJS.Timeout;

  private constructor(options: SharingOptions, certificates: CertificateFolder, devices: Devices) {
    this.#options = options;
    this.#certificates = certificates;
    this.#devices = devices;
    this.listener = new SharedListener(certificates, options.address);
    this.#timer = setInterval(() => this.#saveQuietly(), SAVE_EVERY_MS);
  }

  /** @throws {SharingError} */
  static async open(options: SharingOptions): Promise<Sharing> {
    const now = new Date();
    return new Sharing(options, await CertificateFolder.open(options.folder, now), Devices.open(options.folder, now));
  }

  refuseForeign(headers: IncomingHttpHeaders, needsOrigin: boolean): Refusal | null {
    return refuseForeign(this.listener.hosts, headers.host, headers.origin, needsOrigin, 'https');
  }

  identify(headers: IncomingHttpHeaders): Caller | Refusal {
    const device = this.#devices.identify(tokenOf(headers.cookie), new Date());
    return 'kind' in device ? device : { kind: 'device', device: device.id, name: device.name, role: device.role };
  }

  /** PEM of the authority that devices may trust. */
  get authority(): string {
    return this.#certificates.authority.toString();
  }

  state(): SharingState {
    const open = this.#options.openDevices();
    const now = monotonic();
    const code = this.#desk.current(now);
    return {
      isShared: true,
      addresses: this.listener.addresses,
      fingerprint: this.#certificates.authority.fingerprint256,
      pairing: code === null ? null : { code: code.code, role: code.role, expiresIn: code.expiresAt - now },
      lastCode: this.#desk.lastEnd(now),
      devices: this.#devices.list().map(({ id, name, role, pairedAt, lastSeenAt }) => ({ id, name, role, pairedAt, lastSeenAt, open: open.get(id) ?? 0 })),
    };
  }

  openCode(role: Role): void {
    this.#desk.open(role, monotonic());
  }

  closeCode(): void {
    this.#desk.close(monotonic());
  }

  /**
   * @param from address of the device
   * @returns the role, and the Set-Cookie header with the token @throws {SharingError} when the device can't be saved
   */
  pair(code: string, name: string, from: string): { readonly kind: 'paired'; readonly role: Role; readonly cookie: string } | Refusal {
    const outcome = this.#desk.try(code, from, monotonic());
    if (outcome.kind === 'refused') return outcome;
    const { token } = this.#devices.pair(name, outcome.role, new Date());
    return { ...outcome, cookie: tokenCookie(token) };
  }

  /** @returns false when there is no such device @throws {SharingError} when it can't be saved: it holds until the next start */
  withdraw(device: string): boolean {
    try {
      return this.#devices.withdraw(device, new Date());
    } finally {
      this.#options.closePages(device, 'withdrawn');
    }
  }

  /** @returns false when there is no such device. Its open pages are closed, and come back in the new role. @throws {SharingError} */
  setRole(device: string, role: Role): boolean {
    try {
      return this.#devices.setRole(device, role);
    } finally {
      this.#options.closePages(device, 'new role');
    }
  }

  async close(): Promise<void> {
    clearInterval(this.#timer);
    this.#saveQuietly();
    await this.listener.close();
  }

  /** When a device was last seen is not worth a message. */
  #saveQuietly(): void {
    try {
      if (this.#devices.list().length > 0) this.#devices.save();
    } catch {
      // Whatever matters is saved when it changes, and fails loudly there.
    }
  }
}

/** s; codes must not live longer because the clock was set back. */
function monotonic(): number {
  return performance.now() / 1000;
}
