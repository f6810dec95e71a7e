/** Weights of combinations of three figures, in constant memory: figures are kept in steps, which become twice as wide when there are too many. */

/** Combinations kept at most. */
const MOST_KEPT = 512;

export interface TallyEntry<Memo> {
  /** The figures, in steps of the tally's present width. */
  readonly a: number;
  readonly b: number;
  readonly c: number;
  weight: number;
  /** What was worked out of it last. */
  memo: Memo | null;
}

/** What was kept at one moment: three figures in steps of this width, and their weight, one combination after the other. */
export interface StepTable { readonly width: number; readonly steps: Float64Array }

export class StepTally<Memo = null> {
  #width = 1;
  #kept = new Map<string, TallyEntry<Memo>>();
  /** The combination that was added last, which mostly comes again. */
  #last: TallyEntry<Memo> | null = null;
  weight = 0;

  /** How wide the steps are, in those that were given. */
  get width(): number { return this.#width; }
  entries(): IterableIterator<TallyEntry<Memo>> { return this.#kept.values(); }

  table(): StepTable {
    const steps = new Float64Array(4 * this.#kept.size);
    let at = 0;
    for (const { a, b, c, weight } of this.#kept.values()) {
      steps[at++] = a;
      steps[at++] = b;
      steps[at++] = c;
      steps[at++] = weight;
    }
    return { width: this.#width, steps };
  }

  /** @param a  with `b` and `c` in steps, not rounded yet; infinities stay what they are @param weight  above 0 */
  add(a: number, b: number, c: number, weight: number): void {
    const width = this.#width;
    this.#put(Math.round(a / width), Math.round(b / width), Math.round(c / width), weight);
    this.weight += weight;
    if (this.#kept.size <= MOST_KEPT) return;
    const old = [...this.#kept.values()];
    this.#kept = new Map();
    this.#last = null;
    this.#width *= 2;
    for (const kept of old) this.#put(Math.round(kept.a / 2), Math.round(kept.b / 2), Math.round(kept.c / 2), kept.weight);
  }

  #put(a: number, b: number, c: number, weight: number): void {
    let entry = this.#last;
    if (entry === null || entry.a !== a || entry.b !== b || entry.c !== c) {
      const key = `${a},${b},${c}`;
      entry = this.#kept.get(key) ?? null;
      if (entry === null) this.#kept.set(key, entry = { a, b, c, weight: 0, memo: null });
      this.#last = entry;
    }
    entry.weight += weight;
  }
}
