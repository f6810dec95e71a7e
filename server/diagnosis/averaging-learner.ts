/** How a meter averages, from the dropouts of a take so far: the same whenever it is asked for after the same samples. */
import { averagingOf, isExplained, tailOf } from './averaging.ts';
import type { AveragingNode, Tail } from './averaging.ts';
import type { Departure } from './departure.ts';

/** So many tails that stand out farthest from the noise are kept: they say all that there is to know. */
const KEPT = 16;

interface Learned { readonly departure: Departure; readonly tail: Tail }

export class AveragingLearner {
  /** Farthest from the noise first. */
  #kept: Learned[] = [];
  #learned: readonly Learned[] = [];
  #averaging: readonly AveragingNode[] | null = null;
  #count = 0;

  /** Goes up whenever more was learned: after 1, 2, 4, 8 ... dropouts, so that lengths are seldom worked out anew. */
  version = 0;

  /** A dropout that has returned, and can't be merged any more. @param interval  s */
  add(departure: Departure, interval: number): void {
    // What chatters or was over-range ends in ways of its own.
    if (departure.count > 1 || departure.overRange || !Number.isFinite(departure.peak)) return;
    // Most that leave a level of heavy noise are no farther from it than those that are known.
    const weakest = this.#kept.length < KEPT ? undefined : this.#kept.at(-1);
    if (weakest !== undefined && departure.peak * weakest.tail.noise <= weakest.tail.top * departure.noise) return;
    const tail = tailOfDeparture(departure, interval);
    if (tail === null || !isExplained(tail)) return;
    this.#kept.push({ departure, tail });
    this.#kept.sort((a, b) => b.tail.top / b.tail.noise - a.tail.top / a.tail.noise);
    if (this.#kept.length > KEPT) this.#kept.pop();
    this.#count++;
    if (Math.log2(this.#count) % 1 !== 0) return;
    this.#learned = [...this.#kept];
    this.#averaging = null;
    this.version++;
  }

  /** How the meter may average, as what was learned and the departure itself tell. @param interval  s */
  of(departure: Departure, interval: number): readonly AveragingNode[] {
    const known = this.#learned;
    if (known.length < KEPT && !known.some((one) => one.departure === departure)) {
      const own = tailOfDeparture(departure, interval);
      if (own !== null && isExplained(own)) return averagingOf([...known.map(({ tail }) => tail), own]);
    }
    this.#averaging ??= averagingOf(known.map(({ tail }) => tail));
    return this.#averaging;
  }
}

function tailOfDeparture(departure: Departure, interval: number): Tail | null {
  const { ends, sizes, first, last } = departure.trail();
  return departure.noise > 0 && last >= first ? tailOf({ ends, departures: sizes, first, last }, departure.noise, interval) : null;
}
