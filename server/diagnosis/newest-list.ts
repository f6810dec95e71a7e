/** A list that keeps its newest entries and counts all: a take of any length stays within its memory. */
export class NewestList<T> {
  readonly #limit: number;
  #items: T[] = [];
  /** All that were ever added. */
  total = 0;

  constructor(limit: number) { this.#limit = limit; }

  add(item: T): void {
    this.#items.push(item);
    this.total++;
    // Cut in one go, so that a full list costs no shift per entry.
    if (this.#items.length >= 2 * this.#limit) this.#items = this.#items.slice(-this.#limit);
  }

  /** Oldest first, at most `limit`. */
  items(): readonly T[] { return this.#items.length > this.#limit ? this.#items.slice(-this.#limit) : this.#items.slice(); }
  last(): T | undefined { return this.#items.at(-1); }
  /** Replaces the newest entry. */
  replaceLast(item: T): void { this.#items[this.#items.length - 1] = item; }
}
