/**
 * A serial port, kept open. The port library does not always notice that a cable was pulled (a read that
 * returns nothing can go on for ever), and keeps writes for the next opening; so the device node is looked at four
 * times a second, the port is closed explicitly, and every attempt uses a new port object.
 */
import { stat } from 'node:fs/promises';
import type { SerialPort as SerialPortType } from 'serialport';
import type { LinkStatus } from '../meter.ts';
import { trouble } from '../link-trouble.ts';
import { listPorts, matchPort, type PortIdentity } from './ports.ts';
import { RetryPace } from './retry-pace.ts';
import { missingPort, serialTrouble } from './serial-troubles.ts';
import type { Clock, Transport, TransportListener } from './transport.ts';

/** Where the port is: at a path, or wherever an adapter with this identity turns up. */
export type PortPlace = { readonly kind: 'path'; readonly path: string } | { readonly kind: 'adapter'; readonly identity: PortIdentity };

export interface SerialSettings extends LineSettings {
  readonly place: PortPlace;
}

export interface LineSettings {
  readonly baud: number;
  readonly dataBits: 5 | 6 | 7 | 8;
  readonly parity: 'none' | 'even' | 'odd' | 'mark' | 'space';
  readonly stopBits: 1 | 1.5 | 2;
  readonly flow: 'none' | 'rts-cts' | 'xon-xoff';
  /** Levels of the two lines after every opening; null leaves what the system does. Opto-isolated cables are powered from them. */
  readonly dtr: boolean | null;
  readonly rts: boolean | null;
}

/** How often an adapter that is not there is looked for in the list of ports, s: the system takes a process for each list. */
const LIST_EVERY = 0.5;
/** How often the device node is looked at, s. Bounds the time to reconnect after replugging. */
const LOOK_EVERY = 0.25;
/** The port library's close callback may never come, s. */
const CLOSE_PATIENCE = 2;

export class SerialTransport implements Transport {
  readonly #settings: SerialSettings;
  readonly #clock: Clock;
  #listener: TransportListener | null = null;
  #look: NodeJS.Timeout | null = null;
  #port: SerialPortType | null = null;
  /** Which device node the open port belongs to, or the last attempt went to. */
  #node: string | null = null;
  #connected = false;
  /** One attempt, look or closing at a time. */
  #busy = false;
  readonly #pace = new RetryPace();
  #nextAttempt = 0;
  #wasOpen = false;
  #path: string | null;
  #listedAt = -Infinity;

  constructor(settings: SerialSettings, clock: Clock) {
    this.#settings = settings;
    this.#clock = clock;
    this.#path = settings.place.kind === 'path' ? settings.place.path : null;
  }

  open(listener: TransportListener): void {
    this.#listener = listener;
    this.#look = setInterval(() => this.checkLink(), LOOK_EVERY * 1000);
    setImmediate(() => this.checkLink());
  }

  write(bytes: Uint8Array): boolean {
    if (!this.#connected || this.#port?.isOpen !== true) return false;
    this.#port.write(Buffer.from(bytes));
    return true;
  }

  checkLink(): void {
    if (this.#busy || this.#listener === null) return;
    this.#busy = true;
    void this.#lookOnce().finally(() => {
      this.#busy = false;
    });
  }

  async close(): Promise<void> {
    this.#listener = null;
    if (this.#look !== null) clearInterval(this.#look);
    this.#look = null;
    this.#connected = false;
    while (this.#busy) await new Promise((resolve) => setTimeout(resolve, 5));
    await this.#dropPort();
  }

  async #lookOnce(): Promise<void> {
    if (!this.#connected) await this.#findAdapter();
    const path = this.#path;
    if (path === null) return;
    const node = await deviceNode(path);
    if (this.#connected) {
      if (node !== this.#node || this.#port?.isOpen !== true) await this.#lost();
      return;
    }
    if (node === null) {
      this.#node = null;
      this.#tell(this.#wasOpen ? goneStatus(path) : missingPort(path));
      return;
    }
    // A node that appeared is tried at once; one that refused is left alone for a while.
    const isNew = node !== this.#node;
    if (!isNew && this.#clock() < this.#nextAttempt) return;
    if (isNew) this.#pace.reset();
    this.#node = node;
    await this.#attempt(path);
  }

  /** An adapter may come back under another name. */
  async #findAdapter(): Promise<void> {
    const { place } = this.#settings;
    if (place.kind === 'path' || this.#clock() - this.#listedAt < LIST_EVERY) return;
    this.#listedAt = this.#clock();
    const { ports, message } = await listPorts();
    const match = matchPort(ports, place.identity);
    this.#path = match.kind === 'found' ? portPath(match.port.path) : null;
    if (match.kind === 'found') return;
    this.#node = null;
    if (match.kind === 'ambiguous') {
      const paths = match.ports.map((port) => port.path).join(', ');
      this.#tell(trouble('failed', 'PORT_AMBIGUOUS', `Unplug all but one of ${paths}, or give the path of the port.`));
    } else if (this.#wasOpen) {
      this.#tell(goneStatus('the adapter'));
    } else {
      this.#tell(message === '' ? missingPort('its adapter') : trouble('retry', 'PORT_MISSING', message));
    }
  }

  async #attempt(path: string): Promise<void> {
    try {
      const { SerialPort } = await import('serialport').catch((cause: unknown) => {
        throw new SerialUnavailable(cause);
      });
      const { baud, dataBits, parity, stopBits, flow } = this.#settings;
      const port = new SerialPort({
        path, baudRate: baud, dataBits, parity, stopBits, autoOpen: false,
        rtscts: flow === 'rts-cts', xon: flow === 'xon-xoff', xoff: flow === 'xon-xoff',
      });
      this.#port = port;
      port.on('error', () => this.#onPortLost(port));
      port.on('close', () => this.#onPortLost(port));
      await new Promise<void>((resolve, reject) => port.open((error) => (error === null ? resolve() : reject(error))));
      await this.#setLines(port);
      if (this.#listener === null) return;
      this.#pace.reset();
      this.#wasOpen = true;
      this.#connected = true;
      this.#listener.onConnected();
      port.on('data', (chunk: Buffer) => {
        const arrival = this.#clock();
        if (this.#connected && this.#port === port) this.#listener?.onBytes(chunk, arrival);
      });
    } catch (error) {
      await this.#dropPort();
      this.#nextAttempt = this.#clock() + this.#pace.next();
      if (error instanceof SerialUnavailable) {
        this.#tell(trouble('failed', 'SERIAL_UNAVAILABLE', `Run "npm ci" again, or reach the meter over tcp: (${String(error.cause)}).`));
      } else {
        this.#tell(await serialTrouble(path, error as Error));
      }
    }
  }

  /** Both lines are sent, because the library raises the one that is left out. A port without such lines is no trouble. */
  async #setLines(port: SerialPortType): Promise<void> {
    const { dtr, rts } = this.#settings;
    if (dtr === null && rts === null) return;
    await new Promise<void>((resolve) => port.set({ dtr: dtr ?? true, rts: rts ?? true }, () => resolve()));
  }

  #onPortLost(port: SerialPortType): void {
    if (this.#port === port && this.#connected) this.checkLink();
  }

  async #lost(): Promise<void> {
    this.#connected = false;
    this.#node = null;
    this.#nextAttempt = 0;
    this.#tell(goneStatus(this.#path ?? 'the adapter'));
    await this.#dropPort();
  }

  async #dropPort(): Promise<void> {
    const port = this.#port;
    this.#port = null;
    if (port === null) return;
    port.removeAllListeners();
    port.on('error', () => undefined);
    if (!port.isOpen) return;
    await new Promise<void>((resolve) => {
      const patience = setTimeout(resolve, CLOSE_PATIENCE * 1000);
      port.close(() => {
        clearTimeout(patience);
        resolve();
      });
    });
  }

  #tell(status: LinkStatus): void {
    this.#listener?.onStatus(status);
  }
}

class SerialUnavailable extends Error {
  constructor(cause: unknown) {
    super('the serial port addon does not load', { cause });
  }
}

function goneStatus(path: string): LinkStatus {
  return trouble('gone', 'PORT_GONE', `It connects by itself when ${path} is back.`);
}

/** What stands at a path now: changes when another device takes the name. @returns null when nothing does */
async function deviceNode(path: string): Promise<string | null> {
  // On Windows ports are no files; there an attempt to open tells.
  if (process.platform === 'win32') return path;
  try {
    const { dev, ino, rdev, birthtimeMs } = await stat(path);
    return `${dev}:${ino}:${rdev}:${birthtimeMs}`;
  } catch {
    return null;
  }
}

/** One name for one port: on macOS the `tty.` name waits for a carrier that meters lack. */
export function portPath(path: string, platform: NodeJS.Platform = process.platform): string {
  if (platform === 'darwin') return path.replace(/^\/dev\/tty\./, '/dev/cu.');
  if (platform === 'win32') return path.replace(/^\\\\\.\\/, '').toUpperCase();
  return path;
}
