/**
 * What the service sees of a meter, whatever carries its bytes: batches of readings with the
 * time at which they arrived, and an honest state of the link.
 */
import type { Reading } from './reading.ts';

/**
 * opening: trying for the first time · open: bytes arrive · silent: open, but nothing for longer than
 * the meter's silence time-out · gone: unplugged or hung up · retry: will be opened again ·
 * failed: needs the user (forbidden, busy, bad address) · closed: closed on purpose
 */
export type LinkState = 'opening' | 'open' | 'silent' | 'gone' | 'retry' | 'failed' | 'closed';

export interface LinkStatus {
  readonly state: LinkState;
  /** A sentence for the user: what is the matter and what to do. Empty when all is well. */
  readonly message: string;
  /** Stable code of the trouble, e.g. PORT_MISSING, PORT_BUSY, PORT_FORBIDDEN; empty when none. */
  readonly code: string;
}

/** The readings of one chunk, in order. They share the chunk's arrival time; the session clock spreads them. */
export interface ReadingBatch {
  /** Monotonic clock, s: when the chunk that completed these readings arrived. */
  readonly arrival: number;
  readonly readings: readonly Reading[];
}

export interface LinkCounts {
  readonly readings: number;
  /** Lines or frames that could not be read. */
  readonly skipped: number;
  readonly bytes: number;
}

/** What is known of a meter before it speaks. Unknown is null. */
export interface MeterTraits {
  /** Address as the user gave it, e.g. `serial:/dev/ttyUSB0?baud=9600`. */
  readonly address: string;
  /** Short name for the screen. */
  readonly label: string;
  /** Sample interval, s. */
  readonly interval: number | null;
  /** Aperture (the part of the interval over which the meter averages), s. */
  readonly aperture: number | null;
  /** Accuracy as +/-(fraction of reading + counts), e.g. {fraction: 0.005, counts: 2} for 0.5 % + 2. */
  readonly accuracy: { readonly fraction: number; readonly counts: number } | null;
  /** Resistance of the leads, ohm, to be taken off ohms readings. */
  readonly leadOhms: number | null;
  /** True for a meter that only exists in software, so that no screen can take it for a real one. */
  readonly simulated: boolean;
  /** A recording played back, at so many times its pace; missing: not a playback. */
  readonly playedAt?: number;
}

export interface MeterListener {
  onReadings(batch: ReadingBatch): void;
  onStatus(status: LinkStatus): void;
}

export interface Meter {
  readonly traits: MeterTraits;
  status(): LinkStatus;
  counts(): LinkCounts;
  /** Starts reading; reconnects by itself until `close`. Calls the listener, never before `open` has returned. */
  open(listener: MeterListener): void;
  close(): Promise<void>;
}

/** A meter at the end of a link, whose bytes can be looked at while it is read. */
export interface ByteMeter extends Meter {
  /** Hands on every chunk as it comes, until what is given back is called. */
  tap(look: (bytes: Uint8Array, arrival: number) => void): () => void;
  /** Sends bytes of one's own. @returns false when not connected */
  send(bytes: Uint8Array): boolean;
}
