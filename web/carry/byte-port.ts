/** A meter's link as the page sees it, whatever it is made of: bytes in, bytes out, and an end that is told. */

export interface PortListener {
  onBytes(bytes: Uint8Array): void;
  /** The meter is gone; the port can be opened again. */
  onGone(): void;
}

export interface BytePort {
  /** What the device calls itself; may be empty. */
  readonly name: string;
  /** Opens, for the first time or again. @throws {PortTrouble} */
  open(listener: PortListener): Promise<void>;
  /** Sends while open; what can't be sent is dropped. */
  write(bytes: Uint8Array): void;
  /** Tells nothing to the listener any more. */
  close(): Promise<void>;
}

/** Why a meter of this device can't be read; the message says what to do. */
export class PortTrouble extends Error {
  readonly code: string;
  constructor(code: string, message: string) {
    super(message);
    this.code = code;
  }
}

/** Most questions that wait for a slow link; a meter that is asked faster than it can listen loses the newest. */
export const MOST_WAITING = 8;

/** Runs one after the other what may not overlap. */
export class OneAtATime {
  #last: Promise<unknown> = Promise.resolve();
  #waiting = 0;

  /** @returns false when too many wait already: it is not run */
  add(task: () => Promise<unknown>): boolean {
    if (this.#waiting >= MOST_WAITING) return false;
    this.#waiting++;
    // A link that is gone is told by its own event.
    this.#last = this.#last.then(task).catch(() => undefined).finally(() => this.#waiting--);
    return true;
  }
}

/** @throws {PortTrouble} NO_ANSWER when the promise does not settle in time */
export async function within<T>(seconds: number, promise: Promise<T>, message: string): Promise<T> {
  let timer = 0;
  const late = new Promise<never>((_, reject) => {
    timer = window.setTimeout(() => reject(new PortTrouble('NO_ANSWER', message)), seconds * 1000);
  });
  try {
    return await Promise.race([promise, late]);
  } finally {
    clearTimeout(timer);
  }
}
