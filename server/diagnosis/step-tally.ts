/** Weights of combinations of figures, in constant memory: figures are kept in steps, which become twice as wide when there are too many. */

/** Combinations kept at most. */
const MOST_KEPT = 512;

export interface TallyEntry<Memo> {
  /** In steps of the tally's present width. */
  readonly steps: readonly number[];
  weight: number;
  /** What was worked out of it last. */
  memo: Memo | null;
}

export class StepTally<Memo = null> {
  #width = 1;
  #kept = new Map<string, TallyEntry<Memo>>();
  weight = 0;

  /** How wide the steps are, in those that were given. */
  get width(): number { return this.#width; }
  entries(): IterableIterator<TallyEntry<Memo>> { return this.#kept.values(); }

  /** @param values  in steps, not rounded yet; infinities stay what they are @param weight  above 0 */
  add(values: readonly number[], weight: number): void {
    this.#put(values.map((value) => Math.round(value / this.#width)), weight);
    this.weight += weight;
    if (this.#kept.size <= MOST_KEPT) return;
    const old = [...this.#kept.values()];
    this.#kept = new Map();
    this.#width *= 2;
    for (const { steps, weight: kept } of old) this.#put(steps.map((step) => Math.round(step / 2)), kept);
  }

  #put(steps: readonly number[], weight: number): void {
    const key = steps.join();
    const known = this.#kept.get(key);
    if (known === undefined) this.#kept.set(key, { steps, weight, memo: null });
    else known.weight += weight;
  }
}
