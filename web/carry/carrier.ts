/**
 * Carries meters of this device to the service: keeps their links, opens them again by itself, and forwards their bytes with the time at
 * which they came. Decoding is the service's. While this page carries a meter, closing it stops the readings.
 */
import { effect, signal, untracked } from '@preact/signals';
import { encodeForwardedFrame, MOST_FORWARDED } from '../../server/live/forwarded-frame.ts';
import type { ClientRequest } from '../../server/live/protocol.ts';
import type { MeterRecord } from '../../server/session/session.ts';
import { ask, followForwarding, RequestFailed, sendBytes } from '../live/index.ts';
import { contact, live, serviceClock } from '../state.ts';
import { texts } from '../texts.ts';
import type { BytePort } from './byte-port.ts';

export interface CarriedMeter {
  readonly address: string;
  readonly name: string;
  /** Index at the service; null while it could not be claimed. */
  readonly meter: number | null;
  /** reading: bytes may come; reconnecting: the meter is away, it is tried again; unclaimed: the service is away, or refuses. */
  readonly phase: 'reading' | 'reconnecting' | 'unclaimed';
  /** Why it does not read; empty when it does. */
  readonly message: string;
}

/** Meters that this page carries. */
export const carried = signal<readonly CarriedMeter[]>([]);

const FIRST_RETRY = 0.25;
const LONGEST_RETRY = 5;
/** Names this page to the service for as long as it lives. */
const CARRIER = Array.from(crypto.getRandomValues(new Uint8Array(12)), (byte) => byte.toString(16).padStart(2, '0')).join('');

const carriers = new Map<string, Carrier>();

/**
 * Takes a meter up: it is opened, then claimed at the service.
 * @param address  browser:NAME?options
 * @throws {PortTrouble} when it does not open, {RequestFailed} when the service refuses
 */
export async function carry(port: BytePort, address: string, name: string): Promise<void> {
  const carrier = new Carrier(port, address, name);
  await carrier.begin();
  carriers.get(targetOf(address))?.putDown();
  carriers.set(targetOf(address), carrier);
}

/** Lets go of a meter: its link is closed, and the service forgets it unless it is in use. @throws {RequestFailed} */
export async function putDown(address: string): Promise<void> {
  const carrier = carriers.get(targetOf(address));
  if (carrier?.index !== null && carrier !== undefined) await ask({ type: 'detach-meter', meter: carrier.index });
  carrier?.putDown();
}

/** The address without its settings: what tells one meter from another. */
function targetOf(address: string): string {
  return address.split('?')[0]!;
}

class Carrier {
  readonly #port: BytePort;
  #address: string;
  readonly #name: string;
  #meter: number | null = null;
  #isOpen = false;
  #isOver = false;
  #sequence = 0;
  #retry = FIRST_RETRY;
  #timer = 0;

  constructor(port: BytePort, address: string, name: string) {
    this.#port = port;
    this.#address = address;
    this.#name = name;
  }

  get index(): number | null {
    return this.#meter;
  }

  async begin(): Promise<void> {
    await this.#open();
    try {
      await this.claim();
    } catch (error) {
      this.putDown();
      throw error;
    }
  }

  /** Anew also whenever contact with the service is back. @throws {RequestFailed} */
  async claim(): Promise<void> {
    this.#meter = null;
    const { index } = (await ask({ type: 'carry-meter', carrier: CARRIER, address: this.#address })) as MeterRecord;
    this.#meter = index;
    this.#tellLink('');
    this.#show();
  }

  /** Contact with the service is lost: until it is back nothing can be forwarded. */
  hold(): void {
    this.#meter = null;
    this.#show(texts.carry.noContact);
  }

  /** For what can't be asked for in a press: a claim that is refused is shown with the meter. */
  claimAgain(): void {
    this.claim().catch((error: unknown) => {
      if (!(error instanceof RequestFailed)) throw error;
      this.#show(error.message);
    });
  }

  /** The service reads the meter under another number from now on. */
  renumber(index: number, address: string): void {
    carried.value = carried.value.filter((shown) => shown.address !== this.#address);
    this.#address = address;
    this.#meter = index;
    this.#tellLink('');
    this.#show();
  }

  write(bytes: Uint8Array): void {
    if (this.#isOpen) this.#port.write(bytes);
  }

  putDown(): void {
    this.#isOver = true;
    clearTimeout(this.#timer);
    if (carriers.get(targetOf(this.#address)) === this) carriers.delete(targetOf(this.#address));
    carried.value = carried.value.filter(({ address }) => address !== this.#address);
    void this.#port.close();
  }

  async #open(): Promise<void> {
    await this.#port.open({ onBytes: (bytes) => this.#forward(bytes), onGone: () => this.#lose() });
    if (this.#isOver) return void this.#port.close();
    this.#isOpen = true;
    this.#retry = FIRST_RETRY;
  }

  #lose(): void {
    this.#isOpen = false;
    const reason = texts.carry.lost(this.#name);
    this.#tellLink(reason);
    this.#show(reason);
    this.#openLater();
  }

  #openLater(): void {
    if (this.#isOver) return;
    this.#timer = window.setTimeout(() => {
      this.#open().then(
        () => {
          this.#tellLink('');
          this.#show();
        },
        (error: Error) => {
          this.#show(`${texts.carry.lost(this.#name)} ${error.message}`);
          this.#openLater();
        },
      );
    }, this.#retry * 1000);
    this.#retry = Math.min(LONGEST_RETRY, 2 * this.#retry);
  }

  #forward(bytes: Uint8Array): void {
    const at = serviceClock.read(performance.now() / 1000) ?? NaN;
    const meter = this.#meter;
    if (meter === null) return;
    for (let from = 0; from < bytes.length; from += MOST_FORWARDED) {
      // One that is not sent is missing in the count: nothing is joined across it.
      sendBytes(encodeForwardedFrame({ meter, sequence: this.#sequence++, at, bytes: bytes.subarray(from, from + MOST_FORWARDED) }));
    }
  }

  #tellLink(reason: string): void {
    if (this.#meter === null) return;
    this.#sequence = 0;
    const told: ClientRequest = { type: 'meter-link', meter: this.#meter, isConnected: this.#isOpen, reason: reason.slice(0, 400) };
    // Not answered is no contact: everything is told again with the next claim.
    ask(told).catch(() => undefined);
  }

  #show(message = ''): void {
    if (this.#isOver) return;
    const phase = this.#meter === null ? 'unclaimed' : this.#isOpen ? 'reading' : 'reconnecting';
    const shown: CarriedMeter = { address: this.#address, name: this.#name, meter: this.#meter, phase, message: phase === 'reading' ? '' : message };
    carried.value = [...carried.value.filter(({ address }) => address !== shown.address), shown];
  }
}

/** Follows the contact with the service and the meters that it reads. */
export function startCarrying(): void {
  let wasLost = false;
  effect(() => {
    const { state } = contact.value;
    if (state === 'lost' && !wasLost) {
      wasLost = true;
      untracked(() => carriers.forEach((carrier) => carrier.hold()));
    }
    if (state !== 'open' || !wasLost) return;
    wasLost = false;
    untracked(() => carriers.forEach((carrier) => carrier.claimAgain()));
  });
  // Somebody let go of the meter, on whichever screen.
  let before = live.peek();
  effect(() => {
    const now = live.value;
    const known = before?.meters;
    before = now;
    if (now === null || known === undefined) return;
    untracked(() => carriers.forEach((carrier) => {
      const { index } = carrier;
      if (index !== null && known.some((meter) => meter.index === index) && !now.meters.some((meter) => meter.index === index)) carrier.putDown();
    }));
  });
  const byIndex = (meter: number) => [...carriers.values()].find(({ index }) => index === meter);
  followForwarding({
    onWrite: (meter, bytes) => byIndex(meter)?.write(bytes),
    onMoved: (meter, to, address) => byIndex(meter)?.renumber(to, address),
  });
  // The browser asks before it closes a page that others depend on.
  addEventListener('beforeunload', (event) => {
    if (carriers.size > 0) event.preventDefault();
  });
}
