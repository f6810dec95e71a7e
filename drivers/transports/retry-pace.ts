/** How long to wait before the next attempt to open something: short at first, longer while it goes on failing. */

const FIRST = 0.25;
const LONGEST = 5;

export class RetryPace {
  #wait = FIRST;

  /** It worked, or something changed: begin with short waits again. */
  reset(): void {
    this.#wait = FIRST;
  }

  /** @returns s to wait now, a little at random so that several meters do not knock together */
  next(): number {
    const wait = this.#wait * (0.8 + 0.4 * Math.random());
    this.#wait = Math.min(2 * this.#wait, LONGEST);
    return wait;
  }
}
