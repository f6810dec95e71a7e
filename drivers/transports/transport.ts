/**
 * How bytes arrive, whatever carries them. A transport keeps the link: it opens, notices that the far end went away, and
 * opens again, until it is closed.
 */
import type { LinkStatus } from '../meter.ts';

export interface TransportListener {
  /** A fresh connection: bytes that follow have nothing to do with bytes before. */
  onConnected(): void;
  /** @param arrival  monotonic clock, s, taken first thing when the chunk came */
  onBytes(bytes: Uint8Array, arrival: number): void;
  /** `silent` is not told by the transport: whether a meter is silent is for the meter to say. */
  onStatus(status: LinkStatus): void;
}

export interface Transport {
  open(listener: TransportListener): void;
  /** Sends only while connected; bytes are never kept for a later connection. @returns false when not connected */
  write(bytes: Uint8Array): boolean;
  /** The meter has been silent for long: look whether the link is still there. */
  checkLink(): void;
  close(): Promise<void>;
}

/** Monotonic clock, s. */
export type Clock = () => number;

export function monotonicClock(): number {
  return performance.now() / 1000;
}
