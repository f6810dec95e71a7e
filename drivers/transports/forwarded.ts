/**
 * A meter that hangs on a phone or tablet: its browser receives the bytes (Bluetooth LE or a serial port there) and forwards them
 * to the service, which feeds them in here. Decoding happens in the service like that of any other meter.
 */
import { untroubled, trouble } from '../link-trouble.ts';
import type { Transport, TransportListener } from './transport.ts';

/** What the service does with what a browser sends. */
export interface ForwardedLink {
  /** The browser has connected to the meter, for the first time or again. Numbers of chunks begin at 0. */
  connected(): void;
  /**
   * @param sequence  number of the chunk since `connected`, counted by the browser; a repeated one is dropped, and after a missing one
   *   nothing is joined across
   * @param arrival  when the browser got it, s on the service's monotonic clock
   */
  receive(sequence: number, bytes: Uint8Array, arrival: number): void;
  /** The meter or the browser is gone. @param reason  a sentence for the user, or empty */
  disconnected(reason: string): void;
  /** Where questions for the meter go; null while no browser is there. */
  onWrite: ((bytes: Uint8Array) => void) | null;
}

export class ForwardedTransport implements Transport, ForwardedLink {
  onWrite: ((bytes: Uint8Array) => void) | null = null;
  #listener: TransportListener | null = null;
  #isConnected = false;
  #nextSequence = 0;

  open(listener: TransportListener): void {
    this.#listener = listener;
    setImmediate(() => {
      if (this.#isConnected) this.#listener?.onConnected();
      else this.#tellWaiting();
    });
  }

  write(bytes: Uint8Array): boolean {
    if (!this.#isConnected || this.onWrite === null) return false;
    this.onWrite(bytes);
    return true;
  }

  checkLink(): void {
    // The browser's socket is looked after by the service.
  }

  close(): Promise<void> {
    this.#listener = null;
    return Promise.resolve();
  }

  connected(): void {
    this.#isConnected = true;
    this.#nextSequence = 0;
    this.#listener?.onConnected();
  }

  receive(sequence: number, bytes: Uint8Array, arrival: number): void {
    if (!this.#isConnected || sequence < this.#nextSequence) return;
    // A chunk is missing: what follows is a new stream.
    if (sequence > this.#nextSequence) this.#listener?.onConnected();
    this.#nextSequence = sequence + 1;
    this.#listener?.onBytes(bytes, arrival);
  }

  disconnected(reason: string): void {
    if (!this.#isConnected) return;
    this.#isConnected = false;
    this.#listener?.onStatus(trouble('gone', 'PORT_GONE', reason === '' ? 'Connect it again on the phone or tablet.' : reason));
  }

  #tellWaiting(): void {
    this.#listener?.onStatus({ ...untroubled('retry'), message: 'Waiting for a phone or tablet to forward this meter: choose it there.' });
  }
}
