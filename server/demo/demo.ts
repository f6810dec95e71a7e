/** The demo as the service drives it: leads put somewhere, a fault chosen, one signal for the meter. */
import type { Chart } from '../session/chart.ts';
import type { Check } from '../session/session.ts';
import { alder7Chart } from './alder7-chart.ts';
import { ALDER7_COMPLAINT, ALDER7_FAULTY_SPAN, alder7Checks, alder7DefaultCheck, alder7Faults, simulatedSignal } from './alder7.ts';
import type { Alder7Fault, TrueSignal } from './alder7.ts';

/** What hands do to the harness. */
export interface DemoHands {
  readonly areStill: boolean;
  /** Zone that is flexed, by the chart's words for where its spans run; null when zones are not told apart. */
  readonly zone: string | null;
}

export class Demo {
  readonly title = alder7Chart.name;
  readonly complaint = ALDER7_COMPLAINT;
  readonly chart: Chart = alder7Chart;
  readonly checks: readonly Check[] = alder7Checks;
  readonly defaultCheck: Check = alder7DefaultCheck;
  readonly points: readonly string[] = alder7Chart.points.map((point) => point.id);
  readonly faults = alder7Faults;
  /** What a meter across the battery reads. */
  readonly battery: TrueSignal;
  /** Follows the leads of the chosen check and the fault; the meter keeps hold of it. */
  readonly signal: TrueSignal = following(() => this.#current);
  readonly #seed: number;
  #fault: Alder7Fault = 'splice';
  #check: Check = alder7DefaultCheck;
  #current: TrueSignal;
  #isMoved = true;
  #leads: Parameters<Demo['place']>[0] = [];
  #placed = new Map<number, TrueSignal>();

  constructor(seed: number) {
    this.#seed = seed;
    this.#current = this.#simulate();
    this.battery = simulatedSignal({ check: alder7Checks.find(({ id }) => id === 'battery')!, fault: 'none', seed });
  }

  /**
   * What a meter reads: at points of its own where it has been placed, else at those of the chosen check.
   * @param lag  how much later than the first meter it began, s: its time 0 is not that of the folding
   */
  signalOf(meter: number, lag: () => number): TrueSignal {
    return following(() => this.#placed.get(meter) ?? this.#current, lag);
  }

  /** Puts the leads of further meters on points of their own; those not named are back at the chosen check. */
  place(leads: readonly { readonly meter: number; readonly red: string; readonly black: string }[]): void {
    this.#leads = leads;
    this.#placed = new Map(leads.map(({ meter, red, black }) => [meter, this.#simulate({ red, black, lamp: false })]));
  }

  get fault(): Alder7Fault {
    return this.#fault;
  }

  /** Puts the leads where a check wants them, and the circuit into its state. */
  choose(check: Check): void {
    this.#check = check;
    this.#renew();
  }

  /** The fault opens only while the harness moves where it is. A zone that the chart has no words for may be anywhere. */
  follow({ areStill, zone }: DemoHands): void {
    const isElsewhere = zone !== null && alder7Chart.spans.some((span) => span.route === zone && span.id !== ALDER7_FAULTY_SPAN);
    this.#isMoved = !areStill && !isElsewhere;
  }

  /** @throws {RangeError} for a fault that the demo does not have */
  setFault(id: string): void {
    const found = this.faults.find((fault) => fault.id === id);
    if (found === undefined) throw new RangeError(`the demo has no fault "${id}"`);
    this.#fault = found.id;
    this.#renew();
  }

  #renew(): void {
    this.#current = this.#simulate();
    this.place(this.#leads);
  }

  /** @param other  where leads other than those of the chosen check are, in the same state of the circuit */
  #simulate(other: Partial<Check> = {}): TrueSignal {
    return simulatedSignal({ check: { ...this.#check, ...other }, fault: this.#fault, seed: this.#seed, isMoved: () => this.#isMoved });
  }
}

/** One signal that is always what another is now. */
function following(now: () => TrueSignal, lag: () => number = () => 0): TrueSignal {
  return {
    get quantity() { return now().quantity; },
    get coupling() { return now().coupling; },
    at: (time) => now().at(Math.max(0, time + lag())),
  };
}

/** @param seed  of the folding: equal seeds give equal runs */
export function createDemo(seed = 7): Demo {
  return new Demo(seed);
}
