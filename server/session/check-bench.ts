/**
 * What every check of a circuit is made with: the circuit solved in work, the states that a check may ask for, and a maker that fills in
 * meter setting, cautions and healthy reading.
 */
import type { Arrangement, Circuit, SolvedCircuit } from '../diagnosis/circuit/index.ts';
import { AS_FOUND } from '../diagnosis/circuit/index.ts';
import type { CheckKind, Limits } from '../diagnosis/judgement.ts';
import type { Chart, ChartCircuit, ChartComponent } from './chart.ts';
import { batteryOf, pointOf } from './chart.ts';
import { idsOf, quantityOf } from './check-function.ts';
import { checkLoad } from './check-load.ts';
import type { ChartPart } from './chart-paths.ts';
import { pointsInside } from './chart-paths.ts';
import { readingBy } from './check-reading.ts';
import { voltageFactor } from './limits.ts';
import { figure, loadNames, ohmsWords, voltsWords, wayWords } from './path-words.ts';
import type { Check } from './session.ts';
import { SolvedChart } from './solved-chart.ts';

export type Battery = Extract<ChartComponent, { kind: 'battery' }>;
export type Load = Extract<ChartComponent, { kind: 'load' }>;

/** What a check is made from; the rest (healthy reading, meter setting, cautions) follows. */
export interface CheckDraft {
  readonly id: string;
  readonly kind: CheckKind;
  readonly red: string;
  readonly black: string;
  readonly limits: Limits;
  readonly basis: string;
  readonly condition: string;
  readonly arrangement: Arrangement;
  readonly instructions: readonly string[];
  readonly why: string;
  readonly lamp?: boolean;
  /** What the meter must be set to; the usual of its kind when left out. */
  readonly quantity?: 'voltage' | 'resistance';
}

export class CheckBench {
  readonly chart: Chart;
  readonly own: ChartCircuit;
  readonly temperature: number;
  readonly battery: Battery;
  readonly times: number;
  readonly #solved: SolvedChart;
  readonly #working: SolvedCircuit;

  constructor(chart: Chart, own: ChartCircuit, temperature: number, solved: SolvedChart) {
    this.chart = chart;
    this.own = own;
    this.temperature = temperature;
    this.#solved = solved;
    this.battery = batteryOf(chart) as Battery;
    this.times = voltageFactor(chart.systemVoltage);
    this.#working = solved.in(AS_FOUND);
  }

  get circuit(): Circuit {
    return this.#solved.circuit;
  }

  components<K extends ChartComponent['kind']>(kind: K): Extract<ChartComponent, { kind: K }>[] {
    return this.chart.components.filter((component): component is Extract<ChartComponent, { kind: K }> => component.kind === kind && this.own.parts.includes(component.id));
  }

  get loads(): Load[] {
    return this.components('load');
  }

  /** The lamp that loads a wire, by name: one for another system would burn out, or hardly load it. */
  get lampWords(): string {
    return `a 21 W lamp for ${this.chart.systemVoltage} V`;
  }

  get working(): string {
    return this.own.working === '' ? 'circuit working' : this.own.working;
  }

  get loadWords(): string {
    return loadNames(this.chart, this.loads.map((load) => load.id));
  }

  /** Dead and isolated: battery off, all loads unplugged, and more where the check needs it. */
  dead(...more: readonly ('fuse' | 'contact')[]): { arrangement: Arrangement; condition: string; instructions: string[] } {
    const pulled = [...(more.includes('fuse') ? ['fuses pulled'] : []), ...(more.includes('contact') ? ['relay pulled or switch open'] : [])];
    return {
      arrangement: { removed: idsOf(this.chart, 'battery', 'load', ...more), unplugged: [] },
      condition: ['dead and isolated: battery disconnected', `${this.loadWords} unplugged`, ...pulled].join(', '),
      instructions: [
        'Take the as-found readings first: unplugging can wipe a contact and hide the fault.',
        `Disconnect the battery, then unplug ${this.loadWords}.`,
        ...(pulled.length > 0 ? [`Then: ${pulled.join(', ')}.`] : []),
        'Meter on ohms; short the leads and null them, or note their resistance.',
      ],
    };
  }

  check(draft: CheckDraft): Check {
    const onOhms = quantityOf(draft) === 'resistance';
    const check: Check = {
      id: draft.id, kind: draft.kind, red: draft.red, black: draft.black, limits: draft.limits, limitsBasis: draft.basis,
      condition: draft.condition, arrangement: draft.arrangement, quantity: onOhms ? 'resistance' : 'voltage',
      instructions: draft.instructions, cautions: onOhms ? ['Ohms only on a dead circuit: a live one gives a false figure and can harm the meter.'] : LIVE_CAUTIONS,
      supply: this.chart.systemVoltage, ...(draft.lamp === true ? { lamp: true } : {}),
    };
    const value = this.#read(check);
    const load = checkLoad(this.chart, this.battery, this.#solved.in(draft.arrangement), check);
    return { ...check, ...(load === null ? {} : { load }), healthy: { value: Number.isFinite(value) ? value : null, why: draft.why } };
  }

  /** Current in work along a way: one figure, or from the smallest to the largest where branches join. */
  ampsWords(way: readonly ChartPart[]): string {
    const amps = way.map((part) => figure(Math.abs(this.#working.current(part.id))));
    const least = Math.min(...amps.map(Number));
    const most = Math.max(...amps.map(Number));
    return least === most ? `${most} A` : `${least} to ${most} A`;
  }

  /** Healthy volts between two points with everything working. */
  volts(red: string, black: string): number {
    return this.#read({ ...BARE, red, black });
  }

  ohms(red: string, black: string): number {
    return this.#read({ ...BARE, kind: 'continuity', red, black });
  }

  #read(check: Check): number {
    return readingBy((arrangement) => this.#solved.in(arrangement), this.chart, check);
  }
}

const BARE: Check = { id: '', kind: 'voltage-drop', red: '', black: '', limits: { low: null, high: null }, limitsBasis: '', condition: '', instructions: [], cautions: [] };
const LIVE_CAUTIONS = ['Meter on DC volts, leads in the volts jacks. Keep leads and sleeves clear of moving and hot parts.'];
/** @throws {RangeError} for a circuit that the chart does not have, or a chart without a battery */
export function checkBenchOf(chart: Chart, circuitId: string, temperature: number, solved = new SolvedChart(chart, temperature)): CheckBench {
  const own = chart.circuits.find((circuit) => circuit.id === circuitId);
  if (own === undefined) throw new RangeError(`the chart has no circuit "${circuitId}"`);
  return new CheckBench(chart, own, temperature, solved);
}

/** How volts are read as found. */
export const VOLTS = 'Meter on DC volts. Back-probe, nothing unplugged.';

/** "2.4 m of 2.5 mm² at 20 °C and two joints: 0.12 ohm; at the 3 A that flow, 0.36 V". */
export function explainWay(work: CheckBench, way: readonly ChartPart[], red: string, black: string): string {
  const volts = Math.abs(work.volts(red, black));
  return `${wayWords(way, jointsInside(work.chart, way, red), work.temperature)}: ${ohmsWords(work.ohms(red, black))}; at the ${work.ampsWords(way)} that flow, ${voltsWords(volts)}`;
}

/** Joints that can go bad along a way: pins, splices and studs between its ends. */
export function jointsInside(chart: Chart, way: readonly ChartPart[], from: string): number {
  return pointsInside(way, from).filter((point) => ['pin', 'splice', 'stud'].includes(pointOf(chart, point)?.kind ?? '')).length;
}
