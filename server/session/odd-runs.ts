/** When readings were odd in which way: stretches of them, so that a part of a take that can't be judged stays known. Pure, constant memory. */

/** A stretch of odd readings, session clock, s. */
export interface OddRun {
  readonly from: number;
  readonly to: number;
}

/** Newest stretches kept of each kind; of those before, only their time together. */
const KEPT = 200;

interface Kind { open: { from: number; to: number; readings: number } | null; runs: OddRun[]; earlier: number }

/** Feed it what was seen, in the order of time. */
export class OddRuns<Code extends string> {
  readonly #least: number;
  readonly #kinds = new Map<Code, Kind>();
  #open = 0;

  /** @param least  fewer readings in a row are no stretch: a garbled line, a dial on its way */
  constructor(least: number) {
    this.#least = least;
  }

  /** Whether a stretch is under way, so that a reading without oddity must be told too. */
  get isOpen(): boolean {
    return this.#open > 0;
  }

  /** One reading of this kind was odd. */
  see(code: Code, time: number): void {
    const kind = this.#kinds.get(code) ?? { open: null, runs: [], earlier: 0 };
    this.#kinds.set(code, kind);
    if (kind.open === null) {
      kind.open = { from: time, to: time, readings: 1 };
      this.#open++;
    } else {
      kind.open.to = time;
      kind.open.readings++;
    }
  }

  /** A reading came that is odd in none but these ways: what else was under way has ended. */
  endOthers(codes: readonly Code[]): void {
    for (const [code, kind] of this.#kinds) if (kind.open !== null && !codes.includes(code)) this.#end(kind);
  }

  /** A stretch found by looking at several readings together; one that touches the last one lengthens it. */
  addRun(code: Code, from: number, to: number): void {
    const kind = this.#kinds.get(code) ?? { open: null, runs: [], earlier: 0 };
    this.#kinds.set(code, kind);
    this.#keep(kind, from, to);
  }

  /** Time of this oddity together, s, and whether there was any, in the stretch given; all there is without one. */
  within(code: Code, from = -Infinity, to = Infinity): { readonly isAny: boolean; readonly time: number } {
    const kind = this.#kinds.get(code);
    if (kind === undefined) return { isAny: false, time: 0 };
    const { open } = kind;
    const runs = open !== null && open.readings >= this.#least ? [...kind.runs, open] : kind.runs;
    const met = runs.filter((run) => run.to >= from && run.from <= to);
    const earlier = from === -Infinity ? kind.earlier : 0;
    return { isAny: met.length > 0 || earlier > 0, time: met.reduce((sum, run) => sum + run.to - run.from, earlier) };
  }

  #end(kind: Kind): void {
    const { open } = kind;
    kind.open = null;
    this.#open--;
    if (open !== null && open.readings >= this.#least) this.#keep(kind, open.from, open.to);
  }

  #keep(kind: Kind, from: number, to: number): void {
    const last = kind.runs.at(-1);
    if (last !== undefined && from <= last.to) {
      kind.runs[kind.runs.length - 1] = { from: Math.min(from, last.from), to: Math.max(to, last.to) };
      return;
    }
    kind.runs.push({ from, to });
    const oldest = kind.runs.length > KEPT ? kind.runs.shift() : undefined;
    if (oldest !== undefined) kind.earlier += oldest.to - oldest.from;
  }
}
