/** The demo harness under the leads of the simulated meters; nothing while every meter is real. */
import type { BesideLeads, Check } from '../session/session.ts';
import type { Chart } from '../session/chart.ts';
import type { LiveState } from '../live/protocol.ts';
import { RequestRefused } from '../live/index.ts';
import { createDemo, type Demo } from '../demo/index.ts';
import type { Hands } from './harness-desk.ts';
import type { MeterBench } from './meter-bench.ts';

export class DemoRig {
  readonly #bench: MeterBench;
  #demo: Demo | null = null;

  constructor(bench: MeterBench) {
    this.#bench = bench;
  }

  get chart(): Chart | null {
    return this.#demo?.chart ?? null;
  }

  get defaultCheck(): Check | null {
    return this.#demo?.defaultCheck ?? null;
  }

  /** The leads of every simulated meter touch the harness: those of the one beside the take its battery. @param reference  index of that one; null for none */
  connect(reference: number | null): void {
    const simulated = this.#bench.simulated();
    this.#demo = simulated[0] === undefined ? null : this.#demo ?? createDemo(simulated[0].meter.seed);
    for (const { index, meter } of simulated) {
      const lag = (): number => (meter.startedAt() ?? 0) - (simulated[0]!.meter.startedAt() ?? 0);
      meter.setSignal(index === reference ? this.#demo!.battery : this.#demo!.signalOf(index, lag));
    }
  }

  choose(check: Check): void {
    this.#demo?.choose(check);
  }

  follow(hands: Hands): void {
    this.#demo?.follow(hands);
  }

  place(leads: readonly BesideLeads[]): void {
    this.#demo?.place(leads);
  }

  /** @throws {RequestRefused} */
  simulate(fault: string): void {
    if (this.#demo === null) throw new RequestRefused('NOT_SIMULATED', 'Only a simulated meter can be given a fault.');
    if (!this.#demo.faults.some(({ id }) => id === fault)) throw new RequestRefused('NO_SUCH_FAULT', `The simulation knows no fault "${fault}".`);
    this.#demo.setFault(fault);
  }

  state(): LiveState['simulation'] {
    return this.#demo === null ? null : { scenario: this.#demo.title, complaint: this.#demo.complaint, faults: this.#demo.faults, fault: this.#demo.fault };
  }
}
