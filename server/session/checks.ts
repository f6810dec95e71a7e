/**
 * The checks that a careful technician would make on a circuit, in order: what can be read as found
 * first (unplugging may wipe a contact and cure the fault), then what needs the circuit dead.
 */
import { AS_FOUND } from '../diagnosis/circuit/index.ts';
import type { Chart } from './chart.ts';
import { pointOf } from './chart.ts';
import type { CheckBench, Load } from './check-bench.ts';
import { VOLTS, checkBenchOf, explainWay, jointsInside } from './check-bench.ts';
import { idsOf } from './check-function.ts';
import { isSpan, stretches, throughWires, wayBetween } from './chart-paths.ts';
import type { ChartPart } from './chart-paths.ts';
import { PRACTICE, round } from './limits.ts';
import { figure, loadNames, ohmsWords, voltsWords, wayWords } from './path-words.ts';
import type { Check } from './session.ts';
import type { SolvedChart } from './solved-chart.ts';

export interface ChecksOptions {
  /** Of the conductors, degC; 20 when left out. */
  readonly temperature?: number;
  /** The chart at that temperature, where several circuits of it share it. */
  readonly solved?: SolvedChart;
}

/**
 * The ordered checks of a circuit. Points of a restraint system are left out: they are never probed.
 * @throws {RangeError} for a circuit that the chart does not have, or a chart without a battery
 */
export function checksFor(chart: Chart, circuitId: string, options: ChecksOptions = {}): Check[] {
  const work = checkBenchOf(chart, circuitId, options.temperature ?? 20, options.solved);
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

function batteryChecks(work: CheckBench): Check[] {
  const { battery, times } = work;
  return [work.check({
    id: 'battery', kind: 'supply', red: battery.from, black: battery.to, limits: { low: PRACTICE.batteryAtRest * times, high: null },
    basis: `common practice: battery at rest at least ${PRACTICE.batteryAtRest * times} V`, condition: 'everything off for some minutes',
    arrangement: { removed: idsOf(work.chart, 'load', 'contact'), unplugged: [] }, instructions: [VOLTS], why: `a healthy battery as charted: ${voltsWords(battery.volts)}`,
  })];
}

function fuseChecks(work: CheckBench): Check[] {
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
function supplyChecks(work: CheckBench): Check[] {
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

function groundChecks(work: CheckBench): Check[] {
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

function groundLimit(work: CheckBench, load: Load): { high: number; rule: string } {
  const healthy = Math.abs(work.volts(load.to, work.battery.to));
  if (load.electronic === true) return { high: PRACTICE.groundElectronics, rule: `common practice for electronics` };
  const cap = PRACTICE.groundWhole * work.times;
  return {
    high: round(Math.min(healthy + PRACTICE.groundAboveModel, cap), 2),
    rule: `common practice: model plus ${PRACTICE.groundAboveModel} V, at most ${cap} V`,
  };
}

/** Drops under load: each whole supply side, each contact, then each span, the ground side first. */
function dropChecks(work: CheckBench): Check[] {
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
function switchedOffChecks(work: CheckBench): Check[] {
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
        instructions: [`Meter on DC volts, ${work.lampWords} across the leads: without it a wire in the air can show a voltage that is not there.`],
        why: 'nothing feeds it with the switch off',
      });
    });
}

/** Each stretch of wire that a component parts from both posts: to ground, to supply; and against its neighbours. */
function shortChecks(work: CheckBench): Check[] {
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
      instructions: [`Meter on DC volts, ${work.lampWords} across the leads: a voltage that only shows without the lamp is pickup.`], why: 'nothing feeds it',
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
function continuityChecks(work: CheckBench): Check[] {
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
        ? `the allowed ${voltsWords(allowed)} at the ${work.ampsWords(way)} that flow in work` : `model plus ${PRACTICE.jointOhms} ohm a joint`})`,
      condition: dead.condition, arrangement: dead.arrangement, instructions: dead.instructions, why: `${wayWords(way, joints, work.temperature)}: ${ohmsWords(healthy)}`,
    });
  }));
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
