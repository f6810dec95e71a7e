/** The battery beside the takes: a second meter across it, or readings of it before and after. */
import type { Judgement } from '../diagnosis/judgement.ts';
import { RequestRefused } from '../live/index.ts';
import type { ClientRequest, LiveReference } from '../live/protocol.ts';
import { hasSourceMoved, sayBeforeAfter } from '../session/battery-reference.ts';
import { sayValue } from '../diagnosis/wording.ts';
import { batteryOf } from '../session/chart.ts';
import { systemOfBattery } from '../session/limits.ts';
import type { MeterRecord, TakeRecord } from '../session/session.ts';
import type { PaperDesk } from './paper-desk.ts';
import type { TakeDesk } from './take-desk.ts';

export type BatteryRequest = Extract<ClientRequest, { type: 'refer-to' | 'battery' }>;

export interface BatteryDeskParts {
  readonly desk: TakeDesk;
  readonly paper: PaperDesk;
  readonly meter: (index: number) => MeterRecord | undefined;
  readonly judgedMeter: () => number;
}

export class BatteryDesk {
  readonly #parts: BatteryDeskParts;
  #meter: number | null;

  /** @param meter  index of the one across the battery, null for none */
  constructor(parts: BatteryDeskParts, meter: number | null) {
    this.#parts = parts;
    this.#meter = meter;
  }

  get meter(): number | null {
    return this.#meter;
  }

  /** The meter across the battery for a take that begins now; null for none. */
  forTake(): MeterRecord | null {
    return this.#meter === null || this.#meter === this.#parts.judgedMeter() ? null : this.#parts.meter(this.#meter) ?? null;
  }

  state(): LiveReference {
    const { session: { take, ended }, evidence } = this.#parts.desk;
    const last = take ?? ended[0]?.take ?? null;
    const { battery } = this.#parts.paper.papers;
    const before = last === null ? battery.at(-1) ?? null : battery.findLast(({ at }) => at <= last.start) ?? null;
    const after = last === null || last.end === null ? null : battery.findLast(({ at }) => at >= last.end!) ?? null;
    const source = evidence?.source ?? null;
    return {
      meter: this.#meter, before, after,
      message: [this.#wrongSystem(), source !== null ? source.message : sayBeforeAfter(before, after)].filter((sentence) => sentence !== '').join(' '),
      hasMoved: source !== null ? source.together > 0 : hasSourceMoved(before, after),
    };
  }

  /** @param now  session clock, s @throws {RequestRefused} */
  act(request: BatteryRequest, now: number): void {
    if (request.type === 'battery') return this.#add(now, request.volts);
    const { meter } = request;
    if (meter !== null && meter === this.#parts.judgedMeter()) {
      throw new RequestRefused('METER_IN_USE', 'This meter is the one that is judged: the battery needs a second one.');
    }
    if (meter !== null && this.#parts.meter(meter) === undefined) throw new RequestRefused('NO_SUCH_METER', `There is no meter ${meter}.`);
    this.#meter = meter;
  }

  /** A spot take across the battery's posts tells the battery's voltage. */
  noteTake(take: TakeRecord, { level }: Judgement): void {
    const { chart } = this.#parts.paper;
    const battery = chart === null ? undefined : batteryOf(chart);
    const isAcross = battery !== undefined && take.check.red === battery.from && take.check.black === battery.to;
    if (isAcross && take.watching === 'spot' && level !== null) this.#add(take.end ?? take.start, level);
  }

  /** A battery of another system than the limits are for; empty where it fits, or nobody knows. */
  #wrongSystem(): string {
    const { battery, system } = this.#parts.paper.papers;
    const newest = battery.at(-1);
    const read = newest === undefined ? null : systemOfBattery(newest.volts);
    if (newest === undefined || read === null || read === system.volts) return '';
    return `The battery reads ${sayValue(newest.volts, 'voltage', 0.01)}, as in a ${read} V system, but the ${system.from === 'chart' ? 'chart' : 'session'} is for ${system.volts} V: its limits do not hold.`;
  }

  #add(at: number, volts: number): void {
    const { paper } = this.#parts;
    const { papers } = paper;
    papers.battery = [...papers.battery, { at, volts }];
    paper.keep('battery');
  }
}
