/**
 * What the session clock reads now, on this screen: the clock readings that the service sends arrive late by a varying
 * amount, so the one that arrived quickest is right. Pure: the caller brings the page's own clock.
 */
export class ServiceClock {
  /** Session clock minus page clock, s; the largest seen lately is the least delayed. */
  #offset: number | null = null;

  /** @param clock session clock in a message, s  @param now page clock when it arrived, s */
  hear(clock: number, now: number): void {
    const offset = clock - now;
    // A difference this large is a new session or a sleep, not a delay.
    if (this.#offset === null || Math.abs(offset - this.#offset) > 5) this.#offset = offset;
    else if (offset > this.#offset) this.#offset = offset;
    else this.#offset += 0.02 * (offset - this.#offset);
  }

  /** Session clock, s; null before the first message. */
  read(now: number): number | null {
    return this.#offset === null ? null : this.#offset + now;
  }
}
