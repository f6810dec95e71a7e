/** Further meters on other points of the circuit: where their leads are, from the next take on. */
import { RequestRefused } from '../live/index.ts';
import type { ClientRequest, LiveBeside } from '../live/protocol.ts';
import { refusalOf } from '../session/cautions.ts';
import { chainThrough } from '../session/chart-chain.ts';
import type { TakeAim } from '../session/live-session.ts';
import type { BesideLeads, Check, MeterRecord } from '../session/session.ts';
import { kindBeside } from '../session/several-meters.ts';
import type { PaperDesk } from './paper-desk.ts';
import type { TakeDesk } from './take-desk.ts';

export interface BesideDeskParts {
  readonly desk: TakeDesk;
  readonly paper: PaperDesk;
  readonly meter: (index: number) => MeterRecord | undefined;
  readonly judgedMeter: () => number;
  readonly onChanged: (leads: readonly BesideLeads[]) => void;
}

export class BesideDesk {
  readonly #parts: BesideDeskParts;
  #meters: readonly BesideLeads[];

  constructor(parts: BesideDeskParts, meters: readonly BesideLeads[]) {
    this.#parts = parts;
    this.#meters = meters;
  }

  get meters(): readonly BesideLeads[] {
    return this.#meters;
  }

  state(): LiveBeside {
    const { take } = this.#parts.desk.session;
    const { beside = [], chain } = take ?? this.aim();
    return { meters: beside, message: beside.length === 0 || chain !== undefined ? '' : this.#whatIsMissing(beside) };
  }

  /** What belongs to a take that begins now; nothing in a spot take. */
  aim(): Pick<TakeAim, 'beside' | 'chain'> {
    const { desk: { session: { check, watching } }, paper: { chart } } = this.#parts;
    const beside = this.#meters.filter(({ meter }) => meter !== this.#parts.judgedMeter());
    if (beside.length === 0 || watching === 'spot') return {};
    const chain = chart === null ? null : chainThrough(chart, [check.red, check.black, ...beside.flatMap(({ red, black }) => [red, black])]);
    return { beside, ...(chain === null ? {} : { chain }) };
  }

  /** @throws {RequestRefused} */
  act({ meter, leads }: Extract<ClientRequest, { type: 'watch-beside' }>): void {
    const record = this.#parts.meter(meter);
    if (record === undefined) throw new RequestRefused('NO_SUCH_METER', `There is no meter ${meter}.`);
    if (leads !== null) {
      if (meter === this.#parts.judgedMeter()) throw new RequestRefused('METER_IN_USE', 'This meter is the one that is judged: other points need a second one.');
      const refusal = this.#refusalAt(leads, record);
      if (refusal !== null) throw new RequestRefused(refusal.code, refusal.message);
    }
    this.#meters = [...this.#meters.filter((one) => one.meter !== meter), ...(leads === null ? [] : [{ meter, ...leads }])];
    this.#parts.onChanged(this.#meters);
  }

  /** The rules of the points that hold for any check hold for these. */
  #refusalAt(leads: { readonly red: string; readonly black: string }, meter: MeterRecord) {
    const { desk: { session: { check, watching } }, paper: { chart } } = this.#parts;
    const chain = chart === null ? null : chainThrough(chart, [leads.red, leads.black]);
    const beside: Check = { ...check, ...leads, kind: kindBeside(leads, chain ?? undefined, check.kind) };
    return refusalOf({ check: beside, watching, chart, meter });
  }

  #whatIsMissing(beside: readonly BesideLeads[]): string {
    const { desk: { session: { check } }, paper: { chart } } = this.#parts;
    if (chart === null) return 'Without a chart it can be told which meter sees a dropout, not between which points the break lies.';
    const unknown = [check.red, check.black, ...beside.flatMap(({ red, black }) => [red, black])].filter((point) => !chart.points.some(({ id }) => id === point));
    return unknown.length > 0
      ? `The chart has no point ${[...new Set(unknown)].join(', ')}: it can be told which meter sees a dropout, not between which points the break lies.`
      : 'These points do not lie on one line from the battery through a load and back: it can be told which meter sees a dropout, not between which points the break lies.';
  }
}
