/**
 * Readings under very many faults, quickly. A short is one conductance added between two places of the
 * sound network; a bad joint is one conductance put back where its part was taken out. So the effect follows
 * from an inverse that is kept, by the Sherman-Morrison formula: Z' = Z - Z u u' Z d / (1 + d u' Z u), u the two
 * places, d > 0 the conductance. (Lowering the part's own conductance instead would cancel to nothing on a
 * wire that hangs in the air.) Filaments that go cold and fuses that blow change the network underneath.
 */
import type { Arrangement, Circuit, CircuitPart, Fault, SolvedNetwork } from '../circuit/index.ts';
import {
  AS_FOUND, COLD_BELOW, FUSE_BLOWS_AT, METER_HIGHEST_OHMS, METER_INPUT_OHMS, METER_OHMS_CURRENT, SHORTEST_OHMS, TEST_LAMP_COLD_OHMS, TEST_LAMP_OHMS, batteryVolts, ends, solveWith,
} from '../circuit/index.ts';
import type { Probe } from './probe.ts';

/** The sound circuit in one state, perhaps without one part, with its inverse at hand. */
class Base {
  readonly network: SolvedNetwork;
  readonly voltages: Float64Array;
  readonly arrangement: Arrangement;
  /** Places of the ends of every part that is in, and its resistance. */
  readonly from: Int32Array;
  readonly to: Int32Array;
  /** ohm; 0 for a part that is out, or a battery. */
  readonly ohms: Float64Array;
  readonly #driven = new Map<string, Map<string, Float64Array>>();

  constructor(circuit: Circuit, arrangement: Arrangement, cold: ReadonlySet<string>) {
    this.arrangement = arrangement;
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
      this.ohms[order] = isIn ? Math.max(cold.has(part.id) ? part.coldOhms ?? part.ohms : part.ohms, SHORTEST_OHMS) : 0;
    });
  }

  /** Voltages for one ampere driven in at one node and out at another. */
  driven(into: string, outOf: string): Float64Array {
    let from = this.#driven.get(into);
    if (from === undefined) this.#driven.set(into, from = new Map());
    let found = from.get(outOf);
    if (found === undefined) from.set(outOf, found = this.network.driven(into, outOf));
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

  /** Resistance seen between the leads, ohm. */
  #seen(sound: Float64Array, red: number, black: number): number {
    const seen = at(sound, red) - at(sound, black);
    if (this.#change === null) return seen;
    const coupling = at(this.#change.driven, red) - at(this.#change.driven, black);
    return seen - coupling * coupling * this.#factor;
  }

  /** What the meter shows, SI; Infinity for over-range. */
  reading(probe: Probe): number {
    const { network } = this.base;
    return this.#shown(probe, this.#seen(this.base.driven(probe.red, probe.black), network.place(probe.red), network.place(probe.black)));
  }

  #shown(probe: Probe, seen: number): number {
    const { network } = this.base;
    const open = this.voltage(network.place(probe.red)) - this.voltage(network.place(probe.black));
    if (probe.quantity === 'resistance') {
      const ohms = seen + open / METER_OHMS_CURRENT;
      return Math.abs(ohms) > METER_HIGHEST_OHMS ? Infinity : ohms;
    }
    if (probe.lamp !== true) return open / (1 + seen / METER_INPUT_OHMS);
    const lit = open / (1 + seen * (1 / METER_INPUT_OHMS + 1 / TEST_LAMP_OHMS));
    return Math.abs(lit) < COLD_BELOW * batteryVolts(this.#circuit) ? open / (1 + seen * (1 / METER_INPUT_OHMS + 1 / TEST_LAMP_COLD_OHMS)) : lit;
  }

  /**
   * How the reading moves with the resistance of each part, SI per ohm, by the adjoint network (Tellegen):
   * d V / d R = i j, with i the current in the part and j its current when one ampere is driven through the leads.
   * @param perOhm  filled, one place for each part of the circuit; not touched when the reading is over-range
   * @returns the reading, SI; Infinity for over-range
   */
  sensitivity(probe: Probe, perOhm: Float64Array): number {
    const { network } = this.base;
    const [r, b] = [network.place(probe.red), network.place(probe.black)];
    const sound = this.base.driven(probe.red, probe.black);
    const across = this.#seen(sound, r, b);
    const value = this.#shown(probe, across);
    const { from, to, ohms } = this.base;
    if (!Number.isFinite(value)) return value;
    const change = this.#change;
    const pull = change === null ? 0 : (at(change.driven, r) - at(change.driven, b)) * this.#factor;
    const open = this.voltage(r) - this.voltage(b);
    const load = probe.lamp === true ? TEST_LAMP_OHMS : METER_INPUT_OHMS;
    const divided = 1 / (1 + across / load);
    for (let part = 0; part < ohms.length; part++) {
      const own = ohms[part] as number;
      if (own === 0) {
        perOhm[part] = 0;
        continue;
      }
      const f = from[part] as number;
      const t = to[part] as number;
      const driven = at(sound, f) - at(sound, t) - (change === null ? 0 : (at(change.driven, f) - at(change.driven, t)) * pull);
      const j = driven / own;
      const i = (this.voltage(f) - this.voltage(t)) / own;
      if (probe.quantity === 'resistance') {
        perOhm[part] = j * j + (i * j) / METER_OHMS_CURRENT;
        continue;
      }
      perOhm[part] = i * j * divided - (open * divided * divided * j * j) / load;
    }
    return value;
  }

  current(part: number): number {
    const own = this.base.ohms[part] as number;
    return own === 0 ? 0 : (this.voltage(this.base.from[part] as number) - this.voltage(this.base.to[part] as number)) / own;
  }
}

/** Solves one circuit under any number of single faults. */
export class FaultSolver {
  readonly circuit: Circuit;
  /** By state; then by the part that is taken out (-1: none) and the filaments that are cold, as bits. */
  readonly #bases = new WeakMap<Arrangement, Map<number, Base>>();
  /** The same by content, for states that are written anew each time. */
  readonly #states = new Map<string, Map<number, Base>>();
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
    if (this.#lamps.length > 30) throw new RangeError(`at most 30 filaments, got ${this.#lamps.length}`);
  }

  order(part: string): number {
    const order = this.#order.get(part);
    if (order === undefined) throw new RangeError(`no part "${part}" in the circuit`);
    return order;
  }

  /** No battery is in. */
  isDead(arrangement: Arrangement): boolean {
    return this.circuit.parts.every((part) => part.kind !== 'battery' || arrangement.removed.includes(part.id));
  }

  /** Fuses that the fault blows with everything on: they stay blown in every state. */
  blown(fault: Fault | null): string[] {
    const blown: string[] = [];
    if (fault === null || !fault.kind.startsWith('short')) return blown;
    for (;;) {
      const solved = this.solve(blown.length === 0 ? AS_FOUND : { removed: [...blown], unplugged: [] }, fault);
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
    const without = fault !== null && isSeries(fault) && !arrangement.removed.includes(fault.at) ? this.order(fault.at) : -1;
    let cold = 0;
    for (;;) {
      const base = this.#base(arrangement, without, cold);
      const faulted = new Faulted(this.circuit, base, fault === null ? null : this.#change(base, fault, without, cold));
      const before = cold;
      for (let lamp = 0; lamp < this.#lamps.length; lamp++) {
        const order = this.#lamps[lamp] as number;
        if ((cold & (1 << lamp)) !== 0 || base.ohms[order] === 0) continue;
        const volts = faulted.voltage(base.from[order] as number) - faulted.voltage(base.to[order] as number);
        if (Math.abs(volts) < this.#coldBelow) cold |= 1 << lamp;
      }
      if (cold === before) return faulted;
    }
  }

  /** The fault may sit in the fuse itself or at its end; the current that counts is that of its supply side. */
  #fuseCurrent(solved: Faulted, order: number, fault: Fault): number {
    return fault.at === (this.circuit.parts[order] as CircuitPart).id ? 0 : Math.abs(solved.current(order));
  }

  #base(arrangement: Arrangement, without: number, cold: number): Base {
    let bases = this.#bases.get(arrangement);
    if (bases === undefined) {
      const content = `${[...arrangement.removed].sort().join()}|${[...arrangement.unplugged].sort().join()}`;
      bases = this.#states.get(content);
      if (bases === undefined) this.#states.set(content, bases = new Map());
      this.#bases.set(arrangement, bases);
    }
    const key = (without + 1) * 2 ** this.#lamps.length + cold;
    let base = bases.get(key);
    if (base === undefined) {
      const removed = without < 0 ? arrangement.removed : [...arrangement.removed, (this.circuit.parts[without] as CircuitPart).id];
      const filaments = new Set(this.#lamps.filter((_, lamp) => (cold & (1 << lamp)) !== 0).map((order) => (this.circuit.parts[order] as CircuitPart).id));
      bases.set(key, base = new Base(this.circuit, { removed, unplugged: arrangement.unplugged }, filaments));
    }
    return base;
  }

  #change(base: Base, fault: Fault, without: number, cold: number): Change | null {
    const order = this.order(fault.at);
    if (isSeries(fault)) {
      if (fault.kind === 'open' || without < 0) return null;
      const part = this.circuit.parts[order] as CircuitPart;
      const [from, to] = ends(this.circuit, base.arrangement, part);
      const driven = base.driven(from, to);
      const f = base.from[order] as number;
      const t = base.to[order] as number;
      const own = (cold & (1 << this.#lamps.indexOf(order))) !== 0 && part.coldOhms !== undefined ? part.coldOhms : part.ohms;
      return { driven, seen: at(driven, f) - at(driven, t), volts: at(base.voltages, f) - at(base.voltages, t), siemens: 1 / (own + (fault.ohms ?? 0)) };
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
    return { driven, seen, volts, siemens: 1 / Math.max(fault.ohms ?? 0, SHORTEST_OHMS) };
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

/** Value at a place; the reference is at 0. */
function at(values: Float64Array, place: number): number {
  return place < 0 ? 0 : (values[place] as number);
}
