/**
 * A meter at the far end of a network socket: a bridge that passes a serial port on, or a meter with a network
 * jack. Raw, or with a protocol around the bytes (rfc2217.ts).
 */
import { connect, type Socket } from 'node:net';
import { trouble } from '../link-trouble.ts';
import type { LinkStatus } from '../meter.ts';
import { RetryPace } from './retry-pace.ts';
import type { Clock, Transport, TransportListener } from './transport.ts';

export interface TcpSettings {
  readonly host: string;
  readonly port: number;
}

/** What stands between the socket's bytes and the meter's. One for every connection. */
export interface SocketProtocol {
  /** Called once the socket is connected. */
  start(send: (bytes: Uint8Array) => void): void;
  /** @returns the meter's own bytes among these */
  receive(bytes: Uint8Array): Uint8Array;
  /** @returns bytes for the meter as they go over the socket */
  wrap(bytes: Uint8Array): Uint8Array;
  /** negotiating: the meter's bytes do not count yet · refused: see `trouble` */
  state(): 'negotiating' | 'ready' | 'refused';
  trouble(): LinkStatus;
}

/** The far end may vanish without a word; the system then notices by itself after this, ms. */
const KEEP_ALIVE_MS = 5000;
/** Longest wait for a connection, ms. */
const CONNECT_MS = 5000;
/** Longest wait for the far end to agree on a protocol, ms. */
const AGREE_MS = 3000;

export class TcpTransport implements Transport {
  readonly #settings: TcpSettings;
  readonly #clock: Clock;
  readonly #newProtocol: (() => SocketProtocol) | null;
  readonly #pace = new RetryPace();
  #listener: TransportListener | null = null;
  #socket: Socket | null = null;
  #protocol: SocketProtocol | null = null;
  #retry: NodeJS.Timeout | null = null;
  #patience: NodeJS.Timeout | null = null;
  #connected = false;
  #wasOpen = false;

  constructor(settings: TcpSettings, clock: Clock, newProtocol: (() => SocketProtocol) | null = null) {
    this.#settings = settings;
    this.#clock = clock;
    this.#newProtocol = newProtocol;
  }

  open(listener: TransportListener): void {
    this.#listener = listener;
    this.#retry = setTimeout(() => this.#attempt(), 0);
  }

  write(bytes: Uint8Array): boolean {
    if (!this.#connected || this.#socket === null) return false;
    this.#socket.write(this.#protocol?.wrap(bytes) ?? bytes);
    return true;
  }

  checkLink(): void {
    // The system's keep-alive looks after the socket.
  }

  close(): Promise<void> {
    this.#listener = null;
    this.#stopTimers();
    this.#drop();
    return Promise.resolve();
  }

  #attempt(): void {
    const { host, port } = this.#settings;
    const socket = connect({ host, port, noDelay: true, keepAlive: true, keepAliveInitialDelay: KEEP_ALIVE_MS });
    this.#socket = socket;
    this.#protocol = this.#newProtocol?.() ?? null;
    this.#wait(CONNECT_MS, () => this.#failed('it did not answer in time'));
    let reason = 'it closed the connection';
    socket.on('error', (error) => {
      reason = error.message;
    });
    socket.on('close', () => {
      if (this.#socket === socket) this.#failed(reason);
    });
    socket.on('connect', () => {
      if (this.#protocol === null) return this.#ready();
      this.#wait(AGREE_MS, () => this.#refused());
      this.#protocol.start((bytes) => void socket.write(bytes));
    });
    socket.on('data', (chunk) => {
      const arrival = this.#clock();
      if (this.#socket === socket) this.#receive(chunk, arrival);
    });
  }

  #receive(chunk: Uint8Array, arrival: number): void {
    const bytes = this.#protocol?.receive(chunk) ?? chunk;
    const state = this.#protocol?.state() ?? 'ready';
    if (state === 'refused') return this.#refused();
    if (state === 'negotiating') return;
    // What came together with the end of the negotiation is from before the port was set.
    if (!this.#connected) return this.#ready();
    if (bytes.length > 0) this.#listener?.onBytes(bytes, arrival);
  }

  #ready(): void {
    this.#stopTimers();
    this.#pace.reset();
    this.#connected = true;
    this.#wasOpen = true;
    this.#listener?.onConnected();
  }

  #refused(): void {
    const status = this.#protocol?.trouble();
    this.#drop();
    if (status !== undefined) this.#listener?.onStatus(status);
    this.#retryLater();
  }

  #failed(reason: string): void {
    this.#drop();
    const { host, port } = this.#settings;
    const status = this.#wasOpen
      ? trouble('gone', 'PORT_GONE', `It connects by itself when ${host}:${port} is back (${reason}).`)
      : trouble('retry', 'HOST_UNREACHABLE', `Check that ${host}:${port} is right, switched on and on this network (${reason}). It is tried again.`);
    this.#listener?.onStatus(status);
    this.#retryLater();
  }

  #drop(): void {
    const socket = this.#socket;
    this.#socket = null;
    this.#connected = false;
    this.#stopTimers();
    if (socket === null) return;
    socket.removeAllListeners();
    socket.on('error', () => undefined);
    socket.destroy();
  }

  #retryLater(): void {
    if (this.#listener === null) return;
    this.#retry = setTimeout(() => this.#attempt(), this.#pace.next() * 1000);
  }

  #wait(ms: number, then: () => void): void {
    if (this.#patience !== null) clearTimeout(this.#patience);
    this.#patience = setTimeout(then, ms);
  }

  #stopTimers(): void {
    if (this.#patience !== null) clearTimeout(this.#patience);
    if (this.#retry !== null) clearTimeout(this.#retry);
    this.#patience = null;
    this.#retry = null;
  }
}
