/** A list that keeps its newest entries and counts those that had to go: a take of any length stays within its memory. */
export class NewestList<T> {
  readonly #limit: number;
  #items: T[] = [];
  /** Entries worth keeping that had to go all the same. */
  dropped = 0;

  readonly #isWorthKeeping: ((item: T) => boolean) | null;

  /** @param isWorthKeeping  entries that fail this are the first to go when the list is full */
  constructor(limit: number, isWorthKeeping: ((item: T) => boolean) | null = null) {
    this.#limit = limit;
    this.#isWorthKeeping = isWorthKeeping;
  }

  add(item: T): void {
    this.#items.push(item);
    // Cut in one go, so that a full list costs no shift per entry.
    if (this.#items.length < 2 * this.#limit) return;
    if (this.#isWorthKeeping !== null) this.#items = this.#items.filter(this.#isWorthKeeping);
    this.dropped += Math.max(0, this.#items.length - this.#limit);
    this.#items = this.#items.slice(-this.#limit);
  }

  /** Oldest first; between `limit` and twice as many of a long take. */
  items(): readonly T[] { return this.#items; }
}
