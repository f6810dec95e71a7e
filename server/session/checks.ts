/**
 * The checks that a careful technician would make on a circuit, in order: what can be read as found
 * first (unplugging may wipe a contact and cure the fault), then what needs the circuit dead.
 */
import type { Arrangement, Circuit, SolvedCircuit } from '../diagnosis/circuit/index.ts';
import { AS_FOUND, solveCircuit } from '../diagnosis/circuit/index.ts';
import type { CheckKind, Limits } from '../diagnosis/judgement.ts';
import type { Chart, ChartCircuit, ChartComponent } from './chart.ts';
import { batteryOf, pointOf } from './chart.ts';
import { circuitOf } from './chart-circuit.ts';
import { idsOf } from './check-function.ts';
import { checkLoad } from './check-load.ts';
import { isSpan, pointsInside, stretches, throughWires, wayBetween } from './chart-paths.ts';
import type { ChartPart } from './chart-paths.ts';
import { readingOf } from './check-reading.ts';
import { PRACTICE, round, voltageFactor } from './limits.ts';
import { figure, loadNames, ohmsWords, voltsWords, wayWords } from './path-words.ts';
import type { Check } from './session.ts';

export interface ChecksOptions {
  /** Of the conductors, degC; 20 when left out. */
  readonly temperature?: number;
}

/**
 * The ordered checks of a circuit. Points of a restraint system are left out: they are never probed.
 * @throws {RangeError} for a circuit that the chart does not have, or a chart without a battery
 */
export function checksFor(chart: Chart, circuitId: string, options: ChecksOptions = {}): Check[] {
  const own = chart.circuits.find((circuit) => circuit.id === circuitId);
  if (own === undefined) throw new RangeError(`the chart has no circuit "${circuitId}"`);
  const work = new Workbench(chart, own, options.temperature ?? 20);
  return [
    ...batteryChecks(work),
    ...fuseChecks(work),
    ...supplyChecks(work),
    ...groundChecks(work),
    ...dropChecks(work),
    ...switchedOffChecks(work),
    ...shortChecks(work),
    ...continuityChecks(work),
  ].filter((check) => !isRestraint(chart, check.red) && !isRestraint(chart, check.black));
}

function isRestraint(chart: Chart, point: string): boolean {
  return pointOf(chart, point)?.restraint === true;
}

type Battery = Extract<ChartComponent, { kind: 'battery' }>;
type Load = Extract<ChartComponent, { kind: 'load' }>;

/** What a check is made from; the rest (healthy reading, meter setting, cautions) follows. */
interface Draft {
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
}

class Workbench {
  readonly chart: Chart;
  readonly own: ChartCircuit;
  readonly temperature: number;
  readonly circuit: Circuit;
  readonly battery: Battery;
  readonly times: number;
  readonly #working: SolvedCircuit;

  constructor(chart: Chart, own: ChartCircuit, temperature: number) {
    this.chart = chart;
    this.own = own;
    this.temperature = temperature;
    this.circuit = circuitOf(chart, temperature);
    this.battery = batteryOf(chart) as Battery;
    this.times = voltageFactor(chart.systemVoltage);
    this.#working = solveCircuit(this.circuit, AS_FOUND);
  }

  components<K extends ChartComponent['kind']>(kind: K): Extract<ChartComponent, { kind: K }>[] {
    return this.chart.components.filter((component): component is Extract<ChartComponent, { kind: K }> => component.kind === kind && this.own.parts.includes(component.id));
  }

  get loads(): Load[] {
    return this.components('load');
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

  check(draft: Draft): Check {
    const onOhms = draft.kind === 'continuity' || draft.kind === 'short-to-ground' || draft.kind === 'short-between';
    const check: Check = {
      id: draft.id, kind: draft.kind, red: draft.red, black: draft.black, limits: draft.limits, limitsBasis: draft.basis,
      condition: draft.condition, arrangement: draft.arrangement, quantity: onOhms ? 'resistance' : 'voltage',
      instructions: draft.instructions, cautions: onOhms ? ['Ohms only on a dead circuit: a live one gives a false figure and can harm the meter.'] : LIVE_CAUTIONS,
      ...(draft.lamp === true ? { lamp: true } : {}),
    };
    const value = readingOf(this.chart, this.circuit, check);
    const solved = draft.arrangement === AS_FOUND ? this.#working : solveCircuit(this.circuit, draft.arrangement);
    const load = checkLoad(this.chart, this.battery, solved, check);
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
    return readingOf(this.chart, this.circuit, { ...BARE, red, black });
  }

  ohms(red: string, black: string): number {
    return readingOf(this.chart, this.circuit, { ...BARE, kind: 'continuity', red, black });
  }
}

const BARE: Check = { id: '', kind: 'voltage-drop', red: '', black: '', limits: { low: null, high: null }, limitsBasis: '', condition: '', instructions: [], cautions: [] };
const LIVE_CAUTIONS = ['Meter on DC volts, leads in the volts jacks. Keep leads and sleeves clear of moving and hot parts.'];
const VOLTS = 'Meter on DC volts. Back-probe, nothing unplugged.';

function batteryChecks(work: Workbench): Check[] {
  const { battery, times } = work;
  return [work.check({
    id: 'battery', kind: 'supply', red: battery.from, black: battery.to, limits: { low: PRACTICE.batteryAtRest * times, high: null },
    basis: `common practice: battery at rest at least ${PRACTICE.batteryAtRest * times} V`, condition: 'everything off for some minutes',
    arrangement: { removed: idsOf(work.chart, 'load', 'contact'), unplugged: [] }, instructions: [VOLTS], why: `a healthy battery as charted: ${voltsWords(battery.volts)}`,
  })];
}

function fuseChecks(work: Workbench): Check[] {
  const { battery } = work;
  const low = round(battery.volts - PRACTICE.supplyDrop * work.times, 2);
  return work.components('fuse').flatMap((fuse) => [
    ...[fuse.from, fuse.to].map((blade) => work.check({
      id: `fuse ${blade}`, kind: 'supply', red: blade, black: battery.to, limits: { low, high: null },
      basis: `common practice: at most ${PRACTICE.supplyDrop * work.times} V below the battery now (${voltsWords(battery.volts)}); both blades live: good, one: blown, none: no feed`,
      condition: work.working, arrangement: AS_FOUND, instructions: [VOLTS, `Touch the test point of ${fuse.name} without pulling it.`], why: 'supply from the battery, less the drop of the wire before it',
    })),
    work.check({
      id: `fuse ${fuse.id}`, kind: 'fuse', red: fuse.from, black: fuse.to, limits: { low: null, high: PRACTICE.fuse },
      basis: `common practice: at most ${PRACTICE.fuse} V from blade to blade under load; supply voltage across it: open`, condition: work.working, arrangement: AS_FOUND,
      instructions: [VOLTS, 'Leave the fuse in.'], why: `${figure(fuse.ohms * 1000)} milliohm at the current that flows`,
    }),
  ]);
}

/** At each load, its supply under load: switched where a contact is on the way. */
function supplyChecks(work: Workbench): Check[] {
  const { battery, chart } = work;
  return work.loads.map((load) => {
    const way = wayBetween(chart, battery.from, load.from) ?? [];
    const switched = way.some((part) => !isSpan(part) && part.kind === 'contact');
    return work.check({
      id: `supply ${load.from}`, kind: switched ? 'switched-supply' : 'supply', red: load.from, black: battery.to,
      limits: { low: round(battery.volts - PRACTICE.supplyDrop * work.times, 2), high: null },
      basis: `${explainWay(work, way, battery.from, load.from)}; common practice allows ${PRACTICE.supplyDrop * work.times} V below the battery now (${voltsWords(battery.volts)})`,
      condition: work.working, arrangement: AS_FOUND, instructions: [VOLTS, `${load.name} stays plugged in and on: without load this proves nothing.`],
      why: explainWay(work, way, battery.from, load.from),
    });
  });
}

function groundChecks(work: Workbench): Check[] {
  const { battery, chart } = work;
  return work.loads.map((load) => {
    const way = wayBetween(chart, load.to, battery.to) ?? [];
    const { high, rule } = groundLimit(work, load);
    return work.check({
      id: `ground ${load.to}`, kind: 'ground', red: load.to, black: battery.to, limits: { low: null, high },
      basis: `${explainWay(work, way, load.to, battery.to)}; allowed ${voltsWords(high)} (${rule})`,
      condition: work.working, arrangement: AS_FOUND, instructions: [VOLTS, `${load.name} stays plugged in and on: without current there is no drop to see.`],
      why: explainWay(work, way, load.to, battery.to),
    });
  });
}

function groundLimit(work: Workbench, load: Load): { high: number; rule: string } {
  const healthy = Math.abs(work.volts(load.to, work.battery.to));
  if (load.electronic === true) return { high: PRACTICE.groundElectronics, rule: `common practice for electronics` };
  const cap = PRACTICE.groundWhole * work.times;
  return {
    high: round(Math.min(healthy + PRACTICE.groundAboveModel, cap), 2),
    rule: `common practice: model plus ${PRACTICE.groundAboveModel} V, at most ${cap} V`,
  };
}

/** Drops under load: each whole supply side, each contact, then each span, the ground side first. */
function dropChecks(work: Workbench): Check[] {
  const { battery, chart } = work;
  const drop = (id: string, red: string, black: string, high: number, way: readonly ChartPart[], rule: string): Check => work.check({
    id, kind: 'voltage-drop', red, black, limits: { low: null, high: round(high, 3) },
    basis: `${explainWay(work, way, red, black)}; allowed ${figure(round(high, 3))} V (${rule})`, condition: work.working, arrangement: AS_FOUND,
    instructions: [VOLTS, 'Both leads on the same side of the circuit; the working current must flow.'], why: explainWay(work, way, red, black),
  });
  const sides = work.loads.map((load) => {
    const high = PRACTICE.wholeSide * work.times;
    return drop(`drop ${battery.from} to ${load.from}`, battery.from, load.from, high, wayBetween(chart, battery.from, load.from) ?? [], `common practice: whole supply side at most ${high} V`);
  });
  const contacts = work.components('contact').map((contact) => {
    const high = PRACTICE.contact * work.times;
    return drop(`drop ${contact.id}`, contact.from, contact.to, high, [contact], `common practice: contact or switch at most ${high} V`);
  });
  const groundSide = new Set(work.loads.flatMap((load) => wayBetween(chart, load.to, battery.to) ?? []).map((part) => part.id));
  const spans = chart.spans
    .filter((span) => work.own.parts.includes(span.id))
    .sort((left, right) => Number(groundSide.has(right.id)) - Number(groundSide.has(left.id)))
    .map((span) => {
      const cap = PRACTICE.wire * work.times;
      const high = Math.min(Math.abs(work.volts(span.from, span.to)) + PRACTICE.joint, cap);
      return drop(`drop ${span.id}`, span.from, span.to, high, [span], `common practice: model plus a joint's ${PRACTICE.joint} V, at most ${cap} V for a wire`);
    });
  return [...sides, ...contacts, ...spans];
}

/** The other state of a switched supply: nothing may be left when it is off, with a lamp as load. */
function switchedOffChecks(work: Workbench): Check[] {
  const { battery, chart } = work;
  const contacts = work.components('contact').map((contact) => contact.id);
  return work.loads
    .filter((load) => (wayBetween(chart, battery.from, load.from) ?? []).some((part) => contacts.includes(part.id)))
    .map((load) => {
      const high = PRACTICE.switchedOff * work.times;
      return work.check({
        id: `supply off ${load.from}`, kind: 'short-to-supply', red: load.from, black: battery.to, limits: { low: null, high },
        basis: `common practice: at most ${high} V with the switch off, a lamp as load`, condition: `${loadNames(chart, contacts)} off (after a timed latch has let go), ${work.loadWords} unplugged, lamp as load`,
        arrangement: { removed: idsOf(chart, 'load', 'contact'), unplugged: [] }, lamp: true,
        instructions: ['Meter on DC volts, a 21 W lamp across the leads: without it a wire in the air can show a voltage that is not there.'],
        why: 'nothing feeds it with the switch off',
      });
    });
}

/** Each stretch of wire that a component parts from both posts: to ground, to supply; and against its neighbours. */
function shortChecks(work: Workbench): Check[] {
  const { battery, chart } = work;
  const own = new Set([...chart.spans, ...chart.components].filter((part) => work.own.parts.includes(part.id)).flatMap((part) => [part.from, part.to]));
  const isolated = stretches(chart).filter((stretch) => stretch.length > 1 && stretch.every((point) => own.has(point)) && !stretch.includes(battery.to));
  const dead = work.dead('fuse', 'contact');
  const toGround = isolated.map((stretch) => {
    const red = easiest(chart, stretch);
    return work.check({
      id: `short to ground ${red}`, kind: 'short-to-ground', red, black: battery.to, limits: { low: PRACTICE.insulation, high: null },
      basis: 'common practice: at least 1 Mohm; 0.1 to 1 Mohm may be damp; over-range is the healthy reading', condition: dead.condition, arrangement: dead.arrangement,
      instructions: dead.instructions, why: 'sound insulation: over-range',
    });
  });
  const toSupply = isolated.filter((stretch) => !stretch.includes(battery.from)).map((stretch) => {
    const red = easiest(chart, stretch);
    const high = PRACTICE.strayVoltage * work.times;
    return work.check({
      id: `short to supply ${red}`, kind: 'short-to-supply', red, black: battery.to, limits: { low: null, high },
      basis: `common practice: at most ${high} V, a lamp as load`, condition: `wire isolated: fuses pulled, relay pulled or switch open, ${work.loadWords} unplugged; neighbours live; lamp as load`,
      arrangement: { removed: idsOf(chart, 'load', 'contact', 'fuse'), unplugged: [] }, lamp: true,
      instructions: ['Meter on DC volts, a 21 W lamp across the leads: a voltage that only shows without the lamp is pickup.'], why: 'nothing feeds it',
    });
  });
  const grounded = stretches(chart).find((stretch) => stretch.includes(battery.to)) ?? [];
  const between = isolated.flatMap((stretch, order) => [...isolated.slice(order + 1), grounded]
    .filter((other) => other !== grounded && sharedRoute(chart, stretch, other) !== null)
    .map((other) => work.check({
      id: `short between ${easiest(chart, stretch)} and ${easiest(chart, other)}`, kind: 'short-between', red: easiest(chart, stretch), black: easiest(chart, other),
      limits: { low: PRACTICE.insulation, high: null }, basis: `common practice: at least 1 Mohm; they run together: ${sharedRoute(chart, stretch, other)}`,
      condition: dead.condition, arrangement: dead.arrangement, instructions: dead.instructions, why: 'sound insulation: over-range',
    })));
  return [...toGround, ...toSupply, ...between];
}

/** Ground and supply side of each load, end to end. */
function continuityChecks(work: Workbench): Check[] {
  const { battery, chart } = work;
  const dead = work.dead();
  // With the battery off no relay is held: the supply side starts after the last contact.
  const fed = (load: Load): string => (wayBetween(chart, battery.from, load.from) ?? [])
    .reduce((from, part) => (!isSpan(part) && part.kind === 'contact' ? part.to : from), battery.from);
  return work.loads.flatMap((load) => [
    { red: load.to, black: battery.to, allowed: groundLimit(work, load).high },
    { red: fed(load), black: load.from, allowed: PRACTICE.wholeSide * work.times },
  ].map(({ red, black, allowed }) => {
    const way = wayBetween(chart, red, black, throughWires) ?? [];
    const healthy = work.ohms(red, black);
    const joints = jointsInside(chart, way, red);
    const amps = Math.abs(work.volts(red, black)) / healthy;
    const byJoints = healthy + PRACTICE.jointOhms * joints;
    const byVolts = amps > 0 ? allowed / amps : Infinity;
    const high = round(Math.min(byJoints, byVolts), 3);
    return work.check({
      id: `continuity ${red} to ${black}`, kind: 'continuity', red, black, limits: { low: null, high },
      basis: `${wayWords(way, joints, work.temperature)}: ${ohmsWords(healthy)}; allowed ${ohmsWords(high)} (common practice: ${byVolts < byJoints
        ? `the allowed ${voltsWords(allowed)} at the ${work.ampsWords(way)} that flows in work` : `model plus ${PRACTICE.jointOhms} ohm a joint`})`,
      condition: dead.condition, arrangement: dead.arrangement, instructions: dead.instructions, why: `${wayWords(way, joints, work.temperature)}: ${ohmsWords(healthy)}`,
    });
  }));
}

/** "2.4 m of 2.5 mm2 at 20 degC and two joints: 0.12 ohm; at the 3 A that flows 0.36 V". */
function explainWay(work: Workbench, way: readonly ChartPart[], red: string, black: string): string {
  const volts = Math.abs(work.volts(red, black));
  return `${wayWords(way, jointsInside(work.chart, way, red), work.temperature)}: ${ohmsWords(work.ohms(red, black))}; at the ${work.ampsWords(way)} that flows ${voltsWords(volts)}`;
}

/** Joints that can go bad along a way: pins, splices and studs between its ends. */
function jointsInside(chart: Chart, way: readonly ChartPart[], from: string): number {
  return pointsInside(way, from).filter((point) => ['pin', 'splice', 'stud'].includes(pointOf(chart, point)?.kind ?? '')).length;
}

/** The point of a stretch that takes the fewest minutes to reach. */
function easiest(chart: Chart, stretch: readonly string[]): string {
  const minutes = (id: string): number => {
    const point = pointOf(chart, id);
    return (point?.accessMinutes ?? 0) + (chart.panels.find((panel) => panel.id === point?.panel)?.minutes ?? 0);
  };
  return [...stretch].sort((left, right) => minutes(left) - minutes(right))[0] ?? '';
}

function sharedRoute(chart: Chart, left: readonly string[], right: readonly string[]): string | null {
  const routes = (stretch: readonly string[]): Set<string> => new Set(chart.spans.filter((span) => stretch.includes(span.from)).map((span) => span.route).filter((route) => route !== ''));
  const others = routes(right);
  return [...routes(left)].find((route) => others.has(route)) ?? null;
}
