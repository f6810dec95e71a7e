/** Random harnesses for comparing the model with a circuit simulator, and for measuring how well faults are found. */
import type { Chart, ChartCircuit, ChartComponent, ChartPanel, ChartPoint, ChartSpan, SpanExposure } from '../../server/session/chart.ts';
import { EXPOSURES } from '../../server/session/chart.ts';
import type { Random } from '../signals/random.ts';

const CROSS_SECTIONS = [0.35, 0.5, 0.75, 1, 1.5, 2.5, 4];
const COLOURS = ['BK', 'BN', 'RD', 'OG', 'YE', 'GN', 'BU', 'VT', 'GY', 'WH', 'RDYE', 'BKWH'];
const ROUTES = ['left rail', 'right rail', 'roof', 'bulkhead', 'hinge'];

export interface RandomChartOptions {
  readonly circuits: readonly [least: number, most: number];
  readonly loads: readonly [least: number, most: number];
  /** Chance that a ground tree has a second way to the chassis. */
  readonly parallelGround: number;
}

export const MIXED: RandomChartOptions = { circuits: [1, 3], loads: [1, 3], parallelGround: 0.2 };

/** A chart that a harness could have: battery, fuses, switches, branches at splices, shared grounds, connectors on the way. */
export function randomChart(random: Random, options: RandomChartOptions = MIXED): Chart {
  return new Grower(random, options).chart();
}

class Grower {
  readonly #random: Random;
  readonly #options: RandomChartOptions;
  readonly #points: ChartPoint[] = [];
  readonly #spans: ChartSpan[] = [];
  readonly #components: ChartComponent[] = [];
  readonly #circuits: ChartCircuit[] = [];
  readonly #panels: ChartPanel[] = [];
  #names = 0;

  constructor(random: Random, options: RandomChartOptions) {
    this.#random = random;
    this.#options = options;
  }

  chart(): Chart {
    const random = this.#random;
    const panels = random.integer(0, 4);
    for (let order = 0; order < panels; order++) this.#panels.push({ id: `P${order}`, minutes: Math.round(random.between(2, 15)) });
    const systemVoltage = random.chance(0.25) ? 24 : 12;
    this.#add('B+', 'post', 0);
    this.#add('B-', 'post', 0);
    this.#add('CH', 'stud', 0.0005);
    this.#components.push({ id: 'battery', kind: 'battery', name: 'battery', from: 'B+', to: 'B-', volts: systemVoltage * random.between(1.02, 1.07), ohms: random.between(0.004, 0.02) });
    const strap = this.#span('CH', 'B-', [16, 25]);
    const circuits = random.integer(...this.#options.circuits);
    for (let order = 0; order < circuits; order++) this.#circuit(order, strap);
    return {
      name: `random ${random.seed}`, systemVoltage, points: this.#points, panels: this.#panels, spans: this.#spans, components: this.#components,
      circuits: this.#circuits, chassis: 'CH',
    };
  }

  #circuit(order: number, strap: string): void {
    const random = this.#random;
    const before = { spans: this.#spans.length, components: this.#components.length };
    let at = this.#wire('B+', random.integer(0, 1));
    at = this.#component('fuse', this.#extend(at, 'blade'), 'blade');
    if (random.chance(0.7)) at = this.#component('contact', this.#extend(at, 'contact'), 'contact');
    const grounds: string[] = [];
    const loads = random.integer(...this.#options.loads);
    this.#feed(at, loads, grounds);
    if (grounds.length > 1 && random.chance(this.#options.parallelGround)) this.#toStud(random.pick(grounds));
    const parts = ['battery', strap, ...this.#spans.slice(before.spans).map((span) => span.id), ...this.#components.slice(before.components).map((part) => part.id)];
    this.#circuits.push({ id: `circuit ${order}`, name: `circuit ${order}`, parts, working: 'all on' });
  }

  /** Grows the supply side from a point until the loads are fed. */
  #feed(from: string, loads: number, grounds: string[]): void {
    const random = this.#random;
    const reached = this.#wire(from, random.integer(0, 2));
    if (loads === 1) {
      this.#load(this.#extend(reached, 'terminal'), grounds);
      return;
    }
    const splice = this.#extend(reached, random.chance(0.7) ? 'splice' : 'pin');
    const first = random.integer(1, loads - 1);
    this.#feed(splice, first, grounds);
    this.#feed(splice, loads - first, grounds);
  }

  #load(plus: string, grounds: string[]): void {
    const random = this.#random;
    const minus = this.#add(this.#name('T'), 'terminal', 0);
    const ohms = random.logBetween(1.5, 40);
    this.#components.push({
      id: this.#name('load'), kind: 'load', name: `load at ${plus}`, from: plus, to: minus, ohms,
      ...(random.chance(0.4) ? { coldOhms: ohms / 10 } : {}),
    });
    const reached = this.#wire(minus, random.integer(0, 2));
    if (grounds.length > 0 && random.chance(0.5)) {
      this.#span(reached, random.pick(grounds), CROSS_SECTIONS);
      return;
    }
    const splice = random.chance(0.5) ? this.#extend(reached, 'splice') : reached;
    if (splice !== reached) grounds.push(splice);
    this.#toStud(splice);
  }

  #toStud(from: string): void {
    const stud = this.#extend(this.#wire(from, this.#random.integer(0, 1)), 'stud');
    this.#span(stud, 'CH', [10, 16]);
  }

  /** So many spans on through connector pins. */
  #wire(from: string, spans: number): string {
    let at = from;
    for (let order = 0; order < spans; order++) at = this.#extend(at, 'pin');
    return at;
  }

  #extend(from: string, kind: ChartPoint['kind']): string {
    const prefix = { pin: 'C', splice: 'S', stud: 'G', blade: 'F', contact: 'K', terminal: 'T', post: 'B' }[kind];
    const to = this.#add(this.#name(prefix), kind, kind === 'pin' || kind === 'splice' ? this.#random.between(0.001, 0.006) : this.#random.between(0, 0.001));
    this.#span(from, to, CROSS_SECTIONS);
    return to;
  }

  #component(kind: 'fuse' | 'contact', from: string, endKind: ChartPoint['kind']): string {
    const to = this.#add(this.#name(kind === 'fuse' ? 'F' : 'K'), endKind, 0);
    const ohms = this.#random.between(0.003, 0.015);
    const shared = { id: this.#name(kind), name: kind, from, to, ohms };
    this.#components.push(kind === 'fuse' ? { ...shared, kind, amps: 15 } : { ...shared, kind });
    return to;
  }

  #span(from: string, to: string, crossSections: readonly number[]): string {
    const random = this.#random;
    const exposures = EXPOSURES.filter(() => random.chance(0.25)) as SpanExposure[];
    const id = `${from} to ${to}`;
    this.#spans.push({
      id, from, to, length: Math.round(random.between(0.2, 4) * 10) / 10, crossSection: random.pick(crossSections), colour: random.pick(COLOURS), route: random.pick(ROUTES), exposures,
    });
    return id;
  }

  #add(id: string, kind: ChartPoint['kind'], jointOhms: number): string {
    const random = this.#random;
    const accessMinutes = kind === 'splice' ? random.between(6, 15) : random.between(0.5, 4);
    this.#points.push({
      id, kind, jointOhms, accessMinutes: Math.round(accessMinutes * 10) / 10,
      ...(kind === 'pin' ? { connector: `X${id}` } : {}),
      ...(this.#panels.length > 0 && random.chance(0.6) ? { panel: random.pick(this.#panels).id } : {}),
    });
    return id;
  }

  #name(prefix: string): string {
    return `${prefix}${this.#names++}`;
  }
}
