/** Random charts with faults, read by the model and by ngspice: the netlist is written here from the chart, by other code than the model's. */
import type { Arrangement, Circuit, Fault, Leak } from '../../server/diagnosis/circuit/index.ts';
import { METER_INPUT_OHMS, METER_OHMS_CURRENT, TEST_LAMP_COLD_OHMS, solveCircuit } from '../../server/diagnosis/circuit/index.ts';
import type { Chart } from '../../server/session/chart.ts';
import { circuitOf } from '../../server/session/chart-circuit.ts';
import { usualArrangement } from '../../server/session/check-function.ts';
import type { Random } from '../signals/random.ts';
import { SpiceDeck } from './ngspice.ts';
import { randomChart } from './random-chart.ts';

interface Case { readonly chart: Chart; readonly circuit: Circuit; readonly arrangement: Arrangement; readonly faults: readonly Fault[]; readonly temperature: number }

/** One circuit of the deck, from the chart: what is written here knows nothing of `solveCircuit` but which lamps are lit. */
function writeDeck(deck: SpiceDeck, number: number, { chart, arrangement, faults, temperature }: Case, leaks: readonly Leak[], cold: ReadonlySet<string>): (point: string) => string {
  const battery = chart.components.find((part) => part.kind === 'battery');
  if (battery?.kind !== 'battery') throw new Error('no battery');
  const at = (name: string): string => deck.node(number, name, battery.to);
  const touched = new Set<string>();
  const resistor = (a: string, b: string, ohms: number): void => {
    deck.resistor(a, b, Math.max(ohms, 1e-4));
    touched.add(a).add(b);
  };
  const isApart = (point: string): boolean => {
    const connector = chart.points.find((own) => own.id === point)?.connector;
    return connector !== undefined && arrangement.unplugged.includes(connector);
  };
  const joint = (point: string): number => chart.points.find((own) => own.id === point)?.jointOhms ?? 0;
  const inSeries = (id: string): number => faults.reduce((sum, fault) => sum + (fault.at === id && fault.kind === 'high-resistance' ? fault.ohms ?? 0 : 0), 0);
  const isOpen = (id: string): boolean => faults.some((fault) => fault.at === id && fault.kind === 'open');
  const isOut = (id: string): boolean => arrangement.removed.includes(id);

  for (const part of [...chart.spans, ...chart.components]) {
    const from = at(isApart(part.from) ? `${part.from}:out` : part.from);
    const to = at(isApart(part.to) ? `${part.to}:in` : part.to);
    touched.add(from).add(to);
    if (isOut(part.id)) continue;
    if ('kind' in part && part.kind === 'battery') {
      deck.source(at(`inside ${part.id}`), to, part.volts);
      resistor(at(`inside ${part.id}`), from, part.ohms);
      continue;
    }
    const bare = 'crossSection' in part
      ? (part.length / 58 / part.crossSection) * (1 + 0.00393 * (temperature - 20))
      : cold.has(part.id) && part.kind === 'load' ? part.coldOhms ?? part.ohms : part.ohms;
    const [first, last] = 'crossSection' in part ? [joint(part.from), joint(part.to)] : [0, 0];
    const wire = bare + inSeries(part.id);
    const short = faults.findIndex((fault) => fault.kind.startsWith('short') && (fault.at === part.id || fault.other === part.id));
    if (short < 0) {
      if (!isOpen(part.id)) resistor(from, to, first + wire + last);
      continue;
    }
    const fault = faults[short] as Fault;
    const position = (fault.at === part.id ? fault.position : fault.otherPosition) ?? 0.5;
    const middle = at(`short ${short} ${fault.at === part.id ? 'a' : 'b'}`);
    resistor(from, middle, first + position * wire);
    if (!isOpen(part.id)) resistor(middle, to, (1 - position) * wire + last);
  }
  faults.forEach((fault, order) => {
    const end = at(`short ${order} a`);
    if (!touched.has(end)) return;
    if (fault.kind === 'short-to-ground') resistor(end, at(chart.chassis ?? battery.to), fault.ohms ?? 0);
    if (fault.kind === 'short-to-supply') resistor(end, at(battery.from), fault.ohms ?? 0);
    if (fault.kind === 'short-between' && touched.has(at(`short ${order} b`))) resistor(end, at(`short ${order} b`), fault.ohms ?? 0);
  });
  const end = (point: string): string => at(isApart(point) ? `${point}:in` : point);
  for (const leak of leaks) resistor(end(leak.a), end(leak.b), leak.ohms);
  // Insulation of every point.
  for (const node of touched) if (node !== '0') deck.resistor(node, '0', 1e10);
  return end;
}

function randomFault(random: Random, chart: Chart): Fault {
  const at = random.pick([...chart.spans, ...chart.components.filter((part) => part.kind === 'fuse' || part.kind === 'contact')]).id;
  const kind = random.pick(['open', 'high-resistance', 'short-to-ground', 'short-to-supply', 'short-between'] as const);
  const short = { at, ohms: random.logBetween(0.01, 1000), position: random.uniform() };
  switch (kind) {
    case 'open': return { kind, at };
    case 'high-resistance': return { kind, at, ohms: random.logBetween(0.05, 1e5) };
    case 'short-between': {
      const other = random.pick(chart.spans.filter((span) => span.id !== at)).id;
      return { kind, ...short, other, otherPosition: random.uniform() };
    }
    default: return { kind, ...short };
  }
}

function randomCase(random: Random): Case {
  const chart = randomChart(random);
  const temperature = random.between(-20, 90);
  const points = chart.points.map((point) => point.id);
  const leaks: Leak[] = random.chance(0.4) ? [{ a: random.pick(points), b: 'B+', ohms: random.logBetween(1e5, 2e7) }].filter((leak) => leak.a !== 'B+') : [];
  const kind = random.pick(['supply', 'supply', 'continuity', 'short-to-ground', 'short-to-supply'] as const);
  const connectors = chart.points.flatMap((point) => point.connector ?? []);
  const usual = usualArrangement(chart, kind);
  const unplugged = connectors.length > 0 && random.chance(0.3) ? [random.pick(connectors)] : [];
  const faults = random.chance(0.1) ? [] : [randomFault(random, chart)];
  // Doubles that occur together: damp raises resistance and leaks; a chafed wire shorts and then breaks.
  if (random.chance(0.3)) {
    const second = randomFault(random, chart);
    if (faults.every((fault) => fault.at !== second.at && fault.other !== second.at && fault.at !== second.other && fault.other !== second.other)) faults.push(second);
  }
  return { chart, circuit: circuitOf(chart, temperature, leaks), arrangement: { ...usual, unplugged }, faults, temperature };
}

/** One reading by both; `scale` is what a microvolt is in its unit. */
export interface Compared { readonly value: number; readonly expected: number; readonly scale: number; readonly what: string }

/** Every point's voltage, and between two random points the reading of a meter, of a meter with a lamp, and on ohms. */
export function compareWithSimulator(random: Random, cases: number): Compared[] {
  const deck = new SpiceDeck();
  const own: { value: number; answer: number; scale: number; what: string }[] = [];
  for (let order = 0; order < cases; order++) {
    const one = randomCase(random);
    const solved = solveCircuit(one.circuit, one.arrangement, one.faults);
    const points = one.chart.points.map((point) => point.id);
    const bare = writeDeck(deck, order * 10, one, one.circuit.leaks, solved.cold);
    const named = (point: string): string => (one.arrangement.unplugged.includes(one.circuit.connectors[point] ?? '') ? `${point}:in` : point);
    for (const point of points) own.push({ value: solved.network.voltage(named(point)), answer: deck.ask(bare(point), '0'), scale: 1, what: `case ${order} ${point}` });
    const [red, black] = [random.pick(points), random.pick(points)];
    if (red === black) continue;
    // The same circuit again, each time with another thing between the leads.
    const metered = writeDeck(deck, order * 10 + 1, one, one.circuit.leaks, solved.cold);
    deck.resistor(metered(red), metered(black), METER_INPUT_OHMS);
    own.push({ value: solved.volts(named(red), named(black)), answer: deck.ask(metered(red), metered(black)), scale: 1, what: `case ${order} meter ${red} ${black}` });
    const lamped = writeDeck(deck, order * 10 + 2, one, one.circuit.leaks, solved.cold);
    deck.resistor(lamped(red), lamped(black), METER_INPUT_OHMS);
    deck.resistor(lamped(red), lamped(black), TEST_LAMP_COLD_OHMS);
    own.push({ value: solved.volts(named(red), named(black), TEST_LAMP_COLD_OHMS), answer: deck.ask(lamped(red), lamped(black)), scale: 1, what: `case ${order} lamp ${red} ${black}` });
    const driven = writeDeck(deck, order * 10 + 3, one, one.circuit.leaks, solved.cold);
    deck.current(driven(red), driven(black), METER_OHMS_CURRENT);
    own.push({ value: solved.ohms(named(red), named(black), Infinity), answer: deck.ask(driven(red), driven(black)), scale: 1 / METER_OHMS_CURRENT, what: `case ${order} ohms ${red} ${black}` });
  }
  const answers = deck.solve();
  return own.map(({ value, answer, scale, what }) => ({ value, expected: (answers[answer] ?? NaN) * scale, scale, what }));
}
