/**
 * The devices that were let in, each with a token of its own. Only a hash of the token is kept, so that whoever reads the
 * file can't use it. The caller brings the time.
 */
import { createHash, randomBytes, timingSafeEqual } from 'node:crypto';
import { z } from 'zod';
import { refused, ROLES, type Refusal, type Role } from './caller.ts';
import { readPrivateFile, writePrivateFile } from './private-file.ts';
import { SharingError } from './sharing-error.ts';

const FILE = 'devices.json';
const DAY_MS = 86_400_000;
/** A device has to be paired anew after this. */
export const PAIRED_DAYS = 180;
/** A withdrawn device is told so, instead of "not paired", for this long. */
const WITHDRAWN_KEPT_DAYS = 30;
const MOST_DEVICES = 64;

const device = z.object({
  id: z.string().regex(/^[A-Za-z0-9_-]{8,20}$/),
  name: z.string().max(60),
  role: z.enum(ROLES),
  /** SHA-256 of the token, hexadecimal: the token is 256 random bits, so that a slow hash adds nothing. */
  tokenHash: z.string().regex(/^[0-9a-f]{64}$/),
  pairedAt: z.iso.datetime(),
  lastSeenAt: z.iso.datetime().nullable(),
  withdrawnAt: z.iso.datetime().nullable(),
});
const deviceFile = z.object({ version: z.literal(1), devices: z.array(device) });

export type Device = Readonly<z.infer<typeof device>>;

export class Devices {
  readonly #folder: string;
  #devices: readonly Device[];

  private constructor(folder: string, devices: readonly Device[]) {
    this.#folder = folder;
    this.#devices = devices;
  }

  /** @throws {SharingError} when the file can't be read or understood */
  static open(folder: string, now: Date): Devices {
    const text = readPrivateFile(folder, FILE);
    if (text === null) return new Devices(folder, []);
    let parsed;
    try {
      parsed = deviceFile.safeParse(JSON.parse(text));
    } catch {
      parsed = { success: false as const };
    }
    if (!parsed.success) {
      throw new SharingError('SETTINGS_DAMAGED', `${FILE} in ${folder} is damaged. Delete it and start again; every device has to be paired anew.`);
    }
    const isKept = ({ pairedAt, withdrawnAt }: Device) => (withdrawnAt === null ? age(pairedAt, now) < PAIRED_DAYS : age(withdrawnAt, now) < WITHDRAWN_KEPT_DAYS);
    return new Devices(folder, parsed.data.devices.filter(isKept));
  }

  /** Those that may come in, in the order in which they were paired. */
  list(): readonly Device[] {
    return this.#devices.filter(({ withdrawnAt }) => withdrawnAt === null);
  }

  /** @returns the device and its token, which is known to nobody else from then on @throws {SharingError} */
  pair(name: string, role: Role, now: Date): { device: Device; token: string } {
    if (this.list().length >= MOST_DEVICES) {
      throw new SharingError('TOO_MANY_DEVICES', `${MOST_DEVICES} devices are paired. Withdraw one on the main screen that is no longer used.`);
    }
    const id = randomBytes(9).toString('base64url');
    const secret = randomBytes(32).toString('base64url');
    const paired: Device = {
      id, name, role, tokenHash: hash(secret), pairedAt: now.toISOString(), lastSeenAt: now.toISOString(), withdrawnAt: null,
    };
    this.#devices = [...this.#devices, paired];
    try {
      this.save();
    } catch (error) {
      // A device that would be unknown after a restart is not let in now.
      this.#devices = this.#devices.filter(({ id: other }) => other !== id);
      throw error;
    }
    return { device: paired, token: `${id}.${secret}` };
  }

  /** @param token as given to the device; undefined when it brought none */
  identify(token: string | undefined, now: Date): Device | Refusal {
    const [id = '', secret = ''] = token?.split('.') ?? [];
    const found = this.#devices.find((known) => known.id === id);
    // Compared even when there is no such device, so that the answer takes the same time.
    const isRight = timingSafeEqual(Buffer.from(hash(secret), 'hex'), Buffer.from(found?.tokenHash ?? '0'.repeat(64), 'hex'));
    if (found === undefined || !isRight) return refused(401, 'NOT_PAIRED', 'This device is not paired. Choose "Let a device in" on the main screen, then scan or type the code.');
    if (found.withdrawnAt !== null) {
      return refused(401, 'WITHDRAWN', 'This device was withdrawn on the main screen. To use it again, choose "Let a device in" there and pair it anew.');
    }
    if (age(found.pairedAt, now) >= PAIRED_DAYS) {
      return refused(401, 'PAIRING_EXPIRED', `This device was paired more than ${PAIRED_DAYS} days ago. Choose "Let a device in" on the main screen and pair it anew.`);
    }
    const seen = { ...found, lastSeenAt: now.toISOString() };
    this.#replace(seen);
    return seen;
  }

  /** @returns false when there is no such device. It holds at once, even when saving fails. @throws {SharingError} */
  withdraw(id: string, now: Date): boolean {
    return this.#change(id, { withdrawnAt: now.toISOString() });
  }

  /** @returns false when there is no such device @throws {SharingError} */
  setRole(id: string, role: Role): boolean {
    return this.#change(id, { role });
  }

  /** Saves what identify noted too. @throws {SharingError} */
  save(): void {
    writePrivateFile(this.#folder, FILE, `${JSON.stringify({ version: 1, devices: this.#devices }, null, 1)}\n`);
  }

  #change(id: string, change: Partial<Device>): boolean {
    const found = this.list().find((known) => known.id === id);
    if (found === undefined) return false;
    this.#replace({ ...found, ...change });
    this.save();
    return true;
  }

  #replace(changed: Device): void {
    this.#devices = this.#devices.map((known) => (known.id === changed.id ? changed : known));
  }
}

function hash(secret: string): string {
  return createHash('sha256').update(secret).digest('hex');
}

/** Days since. */
function age(since: string, now: Date): number {
  return (now.getTime() - new Date(since).getTime()) / DAY_MS;
}
