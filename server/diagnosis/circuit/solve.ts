/** A circuit in a state, with faults: what a meter would read wherever its leads are. */
import type { Arrangement, Circuit, CircuitPart, Fault } from './circuit.ts';
import { half } from './circuit.ts';
import type { NetworkElement, SolvedNetwork } from './network.ts';
import { solveNetwork } from './network.ts';

/** Input resistance of a meter on volts, ohm (common practice for hand-held meters, no source). */
export const METER_INPUT_OHMS = 10e6;
/** Highest resistance that a meter shows before over-range, ohm (common practice, no source). */
export const METER_HIGHEST_OHMS = 50e6;
/** Current that the ohms function drives, A (common for the low ranges, no source). */
export const METER_OHMS_CURRENT = 1e-3;
/** A 21 W lamp as load, ohm hot at 12 V. */
export const TEST_LAMP_OHMS = 6.9;
/** The same lamp before it lights, ohm: about a tenth (common practice, no source). */
export const TEST_LAMP_COLD_OHMS = 0.69;
/** Below this part of the battery voltage a filament counts as cold (common practice, no source). */
export const COLD_BELOW = 0.1;
/** Stands for "no resistance to speak of", ohm. Smaller ones would drown the insulation in rounding. */
export const SHORTEST_OHMS = 1e-4;

export class SolvedCircuit {
  readonly circuit: Circuit;
  readonly arrangement: Arrangement;
  readonly network: SolvedNetwork;
  /** Parts whose filament is taken as cold. */
  readonly cold: ReadonlySet<string>;
  readonly #parts: readonly PlacedPart[];

  constructor(circuit: Circuit, arrangement: Arrangement, network: SolvedNetwork, parts: readonly PlacedPart[], cold: ReadonlySet<string>) {
    this.circuit = circuit;
    this.arrangement = arrangement;
    this.network = network;
    this.cold = cold;
    this.#parts = parts;
  }

  /** Resistors of the network that stand for parts, with the part that each belongs to. */
  get parts(): readonly PlacedPart[] {
    return this.#parts;
  }

  /** Open voltage between two points, V: what a meter that draws nothing would read. */
  openVoltage(red: string, black: string): number {
    return this.network.voltage(red) - this.network.voltage(black);
  }

  /**
   * Voltage that a meter reads, V; a wire that hangs in the air reads what its leaks lend it.
   * @param lamp  resistance put across the leads as a load, ohm; null for the meter alone
   */
  volts(red: string, black: string, lamp: number | null = null, input = METER_INPUT_OHMS): number {
    const across = lamp === null ? input : (input * lamp) / (input + lamp);
    return this.openVoltage(red, black) / (1 + this.network.resistance(red, black) / across);
  }

  /**
   * Volts with a 21 W lamp across the leads. Where the wire can't light it, it stays at its
   * cold resistance and pulls the wire down all the more.
   */
  voltsWithLamp(red: string, black: string): number {
    const lit = this.volts(red, black, TEST_LAMP_OHMS);
    return Math.abs(lit) < COLD_BELOW * batteryVolts(this.circuit) ? this.volts(red, black, TEST_LAMP_COLD_OHMS) : lit;
  }

  /**
   * Resistance that a meter shows, ohm; Infinity for over-range. The meter is a source: in a live
   * circuit the foreign voltage adds to its own, and the figure means nothing (it may even be negative).
   */
  ohms(red: string, black: string, highest = METER_HIGHEST_OHMS): number {
    const shown = this.network.resistance(red, black) + this.openVoltage(red, black) / METER_OHMS_CURRENT;
    return Math.abs(shown) > highest ? Infinity : shown;
  }

  /** Current through a part in the direction from its beginning to its end, A; a battery's is what it delivers. */
  current(part: string): number {
    const battery = batteries(this.circuit, this.arrangement).findIndex((candidate) => candidate.id === part);
    if (battery >= 0) return this.network.sourceCurrent(battery);
    const placed = this.#parts.find((candidate) => candidate.part === part);
    return placed === undefined ? 0 : (this.network.voltage(placed.a) - this.network.voltage(placed.b)) / placed.ohms;
  }
}

/** One resistor of the network and the part that it stands for. */
export interface PlacedPart { readonly part: string; readonly a: string; readonly b: string; readonly ohms: number }

/**
 * Solves the circuit in the given state. Filaments that don't get a tenth of the battery voltage are taken as cold.
 * @throws {RangeError} for a fault at a part that the circuit does not have, or with a resistance outside its range
 */
export function solveCircuit(circuit: Circuit, arrangement: Arrangement, faults: readonly Fault[] = []): SolvedCircuit {
  for (const fault of faults) checkFault(circuit, fault);
  const cold = new Set<string>();
  const limit = COLD_BELOW * batteryVolts(circuit);
  for (;;) {
    const solved = solveWith(circuit, arrangement, faults, cold);
    const before = cold.size;
    for (const part of circuit.parts) {
      if (part.coldOhms === undefined || arrangement.removed.includes(part.id)) continue;
      const [a, b] = ends(circuit, arrangement, part);
      if (Math.abs(solved.network.voltage(a) - solved.network.voltage(b)) < limit) cold.add(part.id);
    }
    if (cold.size === before) return solved;
  }
}

/** A fuse carrying more than this many times its rating is taken as blown (from memory: blade fuses open within 5 s at twice the rating). */
export const FUSE_BLOWS_AT = 2;

/** Fuses that a fault blows with everything plugged in and on, by part id. They stay blown in every other state. */
export function blownFuses(circuit: Circuit, faults: readonly Fault[]): string[] {
  const blown: string[] = [];
  for (;;) {
    const solved = solveCircuit(circuit, { removed: blown, unplugged: [] }, faults);
    const next = circuit.parts.filter((part) => part.kind === 'fuse' && part.amps !== undefined && !blown.includes(part.id))
      .map((part) => ({ id: part.id, load: Math.abs(solved.current(part.id)) / (part.amps ?? Infinity) }))
      .filter((fuse) => fuse.load > FUSE_BLOWS_AT)
      .sort((left, right) => right.load - left.load)[0];
    if (next === undefined) return blown;
    blown.push(next.id);
  }
}

/** The same with the cold filaments given, not found. */
export function solveWith(circuit: Circuit, arrangement: Arrangement, faults: readonly Fault[], cold: ReadonlySet<string>): SolvedCircuit {
  const elements: NetworkElement[] = [];
  const placed: PlacedPart[] = [];
  const resistor = (part: string, a: string, b: string, ohms: number): void => {
    const value = Math.max(ohms, SHORTEST_OHMS);
    elements.push({ kind: 'resistor', a, b, ohms: value });
    placed.push({ part, a, b, ohms: value });
  };
  // The posts and both halves of every point stay in the network, whatever is taken out.
  const named = new Set<string>([circuit.ground, circuit.chassis, circuit.supply]);
  for (const part of circuit.parts) for (const end of ends(circuit, arrangement, part)) named.add(end);

  for (const battery of batteries(circuit, arrangement)) {
    const [plus, minus] = ends(circuit, arrangement, battery);
    elements.push({ kind: 'source', plus, minus, volts: battery.volts ?? 0, ohms: battery.ohms });
  }
  for (const part of circuit.parts) {
    if (part.kind === 'battery' || arrangement.removed.includes(part.id)) continue;
    const [a, b] = ends(circuit, arrangement, part);
    const own = faults.filter((fault) => fault.at === part.id || fault.other === part.id);
    const isOpen = own.some((fault) => fault.kind === 'open');
    const extra = own.reduce((sum, fault) => sum + (fault.kind === 'high-resistance' ? fault.ohms ?? 0 : 0), 0);
    const ohms = (cold.has(part.id) ? part.coldOhms ?? part.ohms : part.ohms) + extra;
    // Along the wire, in order: joint, wire with the places where it is shorted, joint.
    const cuts = own
      .filter((fault) => fault.kind.startsWith('short'))
      .map((fault) => ({ node: shortNode(faults.indexOf(fault), fault.at === part.id ? 'at' : 'other'), position: placeOn(fault, part.id) }))
      .sort((left, right) => left.position - right.position);
    const fromJoint = part.fromJointOhms ?? 0;
    const wire = ohms - fromJoint - (part.toJointOhms ?? 0);
    let node = a;
    let done = 0;
    for (const cut of cuts) {
      const reached = fromJoint + cut.position * wire;
      // An open is taken as past the last short: the short stays on the supply side of it.
      resistor(part.id, node, cut.node, reached - done);
      node = cut.node;
      done = reached;
      named.add(cut.node);
    }
    if (!isOpen) resistor(part.id, node, b, ohms - done);
  }
  for (const leak of circuit.leaks) elements.push({ kind: 'resistor', a: anyHalf(circuit, arrangement, leak.a), b: anyHalf(circuit, arrangement, leak.b), ohms: leak.ohms });
  faults.forEach((fault, order) => {
    const ohms = Math.max(fault.ohms ?? 0, SHORTEST_OHMS);
    const node = shortNode(order, 'at');
    if (!named.has(node)) return;
    if (fault.kind === 'short-to-ground') elements.push({ kind: 'resistor', a: node, b: circuit.chassis, ohms });
    if (fault.kind === 'short-to-supply') elements.push({ kind: 'resistor', a: node, b: circuit.supply, ohms });
    if (fault.kind === 'short-between' && named.has(shortNode(order, 'other'))) elements.push({ kind: 'resistor', a: node, b: shortNode(order, 'other'), ohms });
  });
  return new SolvedCircuit(circuit, arrangement, solveNetwork(elements, circuit.ground, named), placed, new Set(cold));
}

function shortNode(order: number, end: 'at' | 'other'): string {
  return `short ${order} ${end}`;
}

function placeOn(fault: Fault, part: string): number {
  return (fault.at === part ? fault.position : fault.otherPosition) ?? 0.5;
}

function batteries(circuit: Circuit, arrangement: Arrangement): CircuitPart[] {
  return circuit.parts.filter((part) => part.kind === 'battery' && !arrangement.removed.includes(part.id));
}

/** Highest voltage of a battery in the circuit, V. */
export function batteryVolts(circuit: Circuit): number {
  return Math.max(0, ...circuit.parts.map((part) => part.volts ?? 0));
}

/** The nodes of a part's two ends, which depend on the connectors that are pulled apart. */
export function ends(circuit: Circuit, arrangement: Arrangement, part: CircuitPart): [string, string] {
  const apart = (point: string): boolean => arrangement.unplugged.includes(circuit.connectors[point] ?? '');
  return [apart(part.from) ? half(part.from, 'out') : part.from, apart(part.to) ? half(part.to, 'in') : part.to];
}

function anyHalf(circuit: Circuit, arrangement: Arrangement, point: string): string {
  return arrangement.unplugged.includes(circuit.connectors[point] ?? '') ? half(point, 'in') : point;
}

function checkFault(circuit: Circuit, fault: Fault): void {
  const has = (id: string | undefined): boolean => circuit.parts.some((part) => part.id === id);
  if (!has(fault.at)) throw new RangeError(`no part "${fault.at}" in the circuit`);
  if (fault.kind === 'short-between' && !has(fault.other)) throw new RangeError(`a short between needs another part, got ${String(fault.other)}`);
  if (fault.kind !== 'open' && !((fault.ohms ?? 0) >= 0)) throw new RangeError(`resistance of a fault must be at least 0 ohm, got ${fault.ohms}`);
  for (const position of [fault.position, fault.otherPosition]) {
    if (position !== undefined && !(position >= 0 && position <= 1)) throw new RangeError(`position must be from 0 to 1, got ${position}`);
  }
}
