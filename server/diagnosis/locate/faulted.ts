/**
 * Readings under very many faults, quickly. A short is one conductance added between two places of the
 * sound network; a bad joint is one conductance put back where its part was taken out. So the effect follows
 * from an inverse that is kept, by the Sherman-Morrison formula: Z' = Z - Z u u' Z d / (1 + d u' Z u), u the two
 * places, d > 0 the conductance. (Lowering the part's own conductance instead would cancel to nothing on a
 * wire that hangs in the air.) Filaments that go cold and fuses that blow change the network underneath.
 */
import type { Arrangement, Circuit, CircuitPart, Fault, SolvedNetwork } from '../circuit/index.ts';
import {
  COLD_BELOW, FUSE_BLOWS_AT, METER_HIGHEST_OHMS, METER_INPUT_OHMS, METER_OHMS_CURRENT, TEST_LAMP_COLD_OHMS, TEST_LAMP_OHMS, batteryVolts, ends, solveWith,
} from '../circuit/index.ts';
import type { Probe } from './probe.ts';

/** The sound circuit in one state, perhaps without one part, with its inverse at hand. */
class Base {
  readonly network: SolvedNetwork;
  readonly voltages: Float64Array;
  readonly arrangement: Arrangement;
  readonly cold: ReadonlySet<string>;
  /** Places of the ends of every part that is in, and its resistance. */
  readonly from: Int32Array;
  readonly to: Int32Array;
  /** ohm; 0 for a part that is out, or a battery. */
  readonly ohms: Float64Array;
  readonly #driven = new Map<string, Float64Array>();

  constructor(circuit: Circuit, arrangement: Arrangement, cold: ReadonlySet<string>) {
    this.arrangement = arrangement;
    this.cold = cold;
    this.network = solveWith(circuit, arrangement, [], cold).network;
    this.voltages = this.network.voltages();
    this.from = new Int32Array(circuit.parts.length);
    this.to = new Int32Array(circuit.parts.length);
    this.ohms = new Float64Array(circuit.parts.length);
    circuit.parts.forEach((part, order) => {
      const [from, to] = ends(circuit, arrangement, part);
      this.from[order] = this.network.place(from);
      this.to[order] = this.network.place(to);
      const isIn = part.kind !== 'battery' && !arrangement.removed.includes(part.id);
      this.ohms[order] = isIn ? Math.max(cold.has(part.id) ? part.coldOhms ?? part.ohms : part.ohms, 1e-4) : 0;
    });
  }

  /** Voltages for one ampere driven in at one node and out at another. */
  driven(into: string, outOf: string): Float64Array {
    const key = `${into}\n${outOf}`;
    let found = this.#driven.get(key);
    if (found === undefined) this.#driven.set(key, found = this.network.driven(into, outOf));
    return found;
  }
}

/** The two places between which a fault adds its conductance: weights on nodes, and what the places inside wires add of their own. */
interface Change {
  /** Voltage of every node per ampere driven through the change. */
  readonly driven: Float64Array;
  /** Resistance seen between the two places, ohm. */
  readonly seen: number;
  /** Voltage between the two places, V. */
  readonly volts: number;
  /** Added conductance, S, > 0. */
  readonly siemens: number;
}

/** The circuit in a state with a fault. */
export class Faulted {
  readonly base: Base;
  readonly #change: Change | null;
  readonly #factor: number;
  readonly #circuit: Circuit;

  constructor(circuit: Circuit, base: Base, change: Change | null) {
    this.#circuit = circuit;
    this.base = base;
    this.#change = change;
    this.#factor = change === null ? 0 : change.siemens / (1 + change.siemens * change.seen);
  }

  voltage(place: number): number {
    if (place < 0) return 0;
    const sound = this.base.voltages[place] as number;
    return this.#change === null ? sound : sound - (this.#change.driven[place] as number) * this.#change.volts * this.#factor;
  }

  /** Voltages for one ampere driven through the leads, by place. */
  #leadDriven(red: string, black: string): { at: (place: number) => number; across: number } {
    const sound = this.base.driven(red, black);
    const [r, b] = [this.base.network.place(red), this.base.network.place(black)];
    const of = (values: Float64Array, place: number): number => (place < 0 ? 0 : (values[place] as number));
    const change = this.#change;
    if (change === null) return { at: (place) => of(sound, place), across: of(sound, r) - of(sound, b) };
    const coupling = of(change.driven, r) - of(change.driven, b);
    const at = (place: number): number => of(sound, place) - of(change.driven, place) * coupling * this.#factor;
    return { at, across: at(r) - at(b) };
  }

  /** What the meter shows, SI; Infinity for over-range. */
  reading(probe: Probe): number {
    return this.#shown(probe, this.#leadDriven(probe.red, probe.black).across);
  }

  #shown(probe: Probe, seen: number): number {
    const { network } = this.base;
    const open = this.voltage(network.place(probe.red)) - this.voltage(network.place(probe.black));
    if (probe.quantity === 'resistance') {
      const ohms = seen + open / METER_OHMS_CURRENT;
      return Math.abs(ohms) > METER_HIGHEST_OHMS ? Infinity : ohms;
    }
    const across = (lamp: number): number => open / (1 + seen * (1 / METER_INPUT_OHMS + 1 / lamp));
    if (probe.lamp !== true) return open / (1 + seen / METER_INPUT_OHMS);
    const lit = across(TEST_LAMP_OHMS);
    return Math.abs(lit) < COLD_BELOW * batteryVolts(this.#circuit) ? across(TEST_LAMP_COLD_OHMS) : lit;
  }

  /**
   * How the reading moves with the resistance of each part, SI per ohm, by the adjoint network (Tellegen):
   * d V / d R = i j, with i the current in the part and j its current when one ampere is driven through the leads.
   */
  sensitivity(probe: Probe): { value: number; perOhm: Float64Array } {
    const { at, across } = this.#leadDriven(probe.red, probe.black);
    const value = this.#shown(probe, across);
    const { from, to, ohms } = this.base;
    const perOhm = new Float64Array(ohms.length);
    if (!Number.isFinite(value)) return { value, perOhm };
    const [r, b] = [this.base.network.place(probe.red), this.base.network.place(probe.black)];
    const open = this.voltage(r) - this.voltage(b);
    const load = probe.lamp === true ? TEST_LAMP_OHMS : METER_INPUT_OHMS;
    const divided = 1 / (1 + across / load);
    for (let part = 0; part < ohms.length; part++) {
      const own = ohms[part] as number;
      if (own === 0) continue;
      const [f, t] = [from[part] as number, to[part] as number];
      const j = (at(f) - at(t)) / own;
      const i = (this.voltage(f) - this.voltage(t)) / own;
      if (probe.quantity === 'resistance') {
        perOhm[part] = j * j + (i * j) / METER_OHMS_CURRENT;
        continue;
      }
      perOhm[part] = i * j * divided - (open * divided * divided * j * j) / load;
    }
    return { value, perOhm };
  }

  current(part: number): number {
    const own = this.base.ohms[part] as number;
    return own === 0 ? 0 : (this.voltage(this.base.from[part] as number) - this.voltage(this.base.to[part] as number)) / own;
  }
}

/** Solves one circuit under any number of single faults. */
export class FaultSolver {
  readonly circuit: Circuit;
  readonly #bases = new Map<string, Base>();
  readonly #order: ReadonlyMap<string, number>;
  readonly #lamps: readonly number[];
  readonly #fuses: readonly number[];
  readonly #coldBelow: number;

  constructor(circuit: Circuit) {
    this.circuit = circuit;
    this.#order = new Map(circuit.parts.map((part, order) => [part.id, order]));
    this.#lamps = circuit.parts.flatMap((part, order) => (part.coldOhms === undefined ? [] : [order]));
    this.#fuses = circuit.parts.flatMap((part, order) => (part.kind === 'fuse' && part.amps !== undefined ? [order] : []));
    this.#coldBelow = COLD_BELOW * batteryVolts(circuit);
  }

  order(part: string): number {
    const order = this.#order.get(part);
    if (order === undefined) throw new RangeError(`no part "${part}" in the circuit`);
    return order;
  }

  /** Fuses that the fault blows with everything on: they stay blown in every state. */
  blown(fault: Fault | null): string[] {
    const blown: string[] = [];
    if (fault === null || !fault.kind.startsWith('short')) return blown;
    for (;;) {
      const solved = this.solve({ removed: blown, unplugged: [] }, fault);
      let worst = FUSE_BLOWS_AT;
      let next: string | null = null;
      for (const order of this.#fuses) {
        const part = this.circuit.parts[order] as CircuitPart;
        const load = this.#fuseCurrent(solved, order, fault) / (part.amps ?? Infinity);
        if (load > worst) [worst, next] = [load, part.id];
      }
      if (next === null) return blown;
      blown.push(next);
    }
  }

  /** @param fault  one fault, or null for the sound circuit */
  solve(arrangement: Arrangement, fault: Fault | null): Faulted {
    const cold = new Set<string>();
    for (;;) {
      const base = this.#base(fault !== null && isSeries(fault) ? { ...arrangement, removed: [...arrangement.removed, fault.at] } : arrangement, cold);
      const faulted = new Faulted(this.circuit, base, fault === null ? null : this.#change(base, fault, arrangement, cold));
      const before = cold.size;
      for (const lamp of this.#lamps) {
        const id = (this.circuit.parts[lamp] as CircuitPart).id;
        if (cold.has(id) || base.ohms[lamp] === 0) continue;
        const volts = faulted.voltage(base.from[lamp] as number) - faulted.voltage(base.to[lamp] as number);
        if (Math.abs(volts) < this.#coldBelow) cold.add(id);
      }
      if (cold.size === before) return faulted;
    }
  }

  /** The fault may sit in the fuse itself or at its end; the current that counts is that of its supply side. */
  #fuseCurrent(solved: Faulted, order: number, fault: Fault): number {
    return fault.at === (this.circuit.parts[order] as CircuitPart).id ? 0 : Math.abs(solved.current(order));
  }

  #base(arrangement: Arrangement, cold: ReadonlySet<string>): Base {
    const key = `${[...arrangement.removed].sort().join()}|${[...arrangement.unplugged].sort().join()}|${[...cold].sort().join()}`;
    let base = this.#bases.get(key);
    if (base === undefined) this.#bases.set(key, base = new Base(this.circuit, arrangement, new Set(cold)));
    return base;
  }

  #change(base: Base, fault: Fault, arrangement: Arrangement, cold: ReadonlySet<string>): Change | null {
    const order = this.order(fault.at);
    if (isSeries(fault)) {
      if (fault.kind === 'open' || arrangement.removed.includes(fault.at)) return null;
      const part = this.circuit.parts[order] as CircuitPart;
      const [from, to] = ends(this.circuit, base.arrangement, part);
      const driven = base.driven(from, to);
      const [f, t] = [base.from[order] as number, base.to[order] as number];
      const of = (values: Float64Array, place: number): number => (place < 0 ? 0 : (values[place] as number));
      const own = cold.has(part.id) ? part.coldOhms ?? part.ohms : part.ohms;
      return { driven, seen: of(driven, f) - of(driven, t), volts: of(base.voltages, f) - of(base.voltages, t), siemens: 1 / (own + (fault.ohms ?? 0)) };
    }
    const here = this.#placeInside(base, order, fault.position ?? 0.5);
    const there = fault.kind === 'short-between'
      ? this.#placeInside(base, this.order(fault.other ?? ''), fault.otherPosition ?? 0.5)
      : { weights: [[fault.kind === 'short-to-ground' ? this.circuit.chassis : this.circuit.supply, 1]] as const, extra: 0 };
    const size = base.voltages.length;
    const driven = new Float64Array(size);
    const { network } = base;
    const ground = this.circuit.ground;
    const weights: [string, number][] = [...here.weights.map(([node, weight]): [string, number] => [node, weight]), ...there.weights.map(([node, weight]): [string, number] => [node, -weight])];
    for (const [node, weight] of weights) {
      if (weight === 0 || node === ground) continue;
      const column = base.driven(node, ground);
      for (let place = 0; place < size; place++) driven[place] = (driven[place] as number) + weight * (column[place] as number);
    }
    let seen = here.extra + there.extra;
    let volts = 0;
    for (const [node, weight] of weights) {
      const place = network.place(node);
      if (place < 0) continue;
      seen += weight * (driven[place] as number);
      volts += weight * (base.voltages[place] as number);
    }
    return { driven, seen, volts, siemens: 1 / Math.max(fault.ohms ?? 0, 1e-4) };
  }

  /** A place along a wire as weights on its ends, and the resistance that it adds of its own: x (1 - x) R. */
  #placeInside(base: Base, order: number, position: number): { weights: readonly (readonly [string, number])[]; extra: number } {
    const part = this.circuit.parts[order] as CircuitPart;
    const [from, to] = ends(this.circuit, base.arrangement, part);
    const own = base.ohms[order] as number;
    if (own === 0) return { weights: [[from, 1]], extra: 0 };
    const wire = own - (part.fromJointOhms ?? 0) - (part.toJointOhms ?? 0);
    const share = ((part.fromJointOhms ?? 0) + position * wire) / own;
    return { weights: [[from, 1 - share], [to, share]], extra: share * (1 - share) * own };
  }
}

function isSeries(fault: Fault): boolean {
  return fault.kind === 'open' || fault.kind === 'high-resistance';
}
