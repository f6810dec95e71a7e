/**
 * Cautions, shown at the checks where they apply and acknowledged once a session; and what is never done at all: restraint systems are
 * not probed, and a meter that is tied to an earthed computer is not put between two live points. Pure data and rules.
 *
 * The rules are common practice, no source, unless one is named.
 */
import { wholePoint } from '../diagnosis/circuit/index.ts';
import type { Chart } from './chart.ts';
import { batteryOf, pointOf } from './chart.ts';
import { quantityOf } from './check-function.ts';
import type { Check, MeterRecord } from './session.ts';
import type { Watching } from '../diagnosis/judgement.ts';

export interface Caution {
  /** Stable. */
  readonly id: string;
  /** One or two short sentences. */
  readonly text: string;
}

export interface CautionSituation {
  readonly check: Check;
  readonly watching: Watching;
  /** Null when there is none. */
  readonly chart: Chart | null;
  /** The meter that is judged, where there is one. */
  readonly meter: MeterRecord | undefined;
}

type Rule = Caution & { readonly applies: (situation: CautionSituation) => boolean };

const isOnOhms = ({ check }: Pick<CautionSituation, 'check'>): boolean => quantityOf(check) === 'resistance';
const isLive = (situation: CautionSituation): boolean => !isOnOhms(situation);
/** Points of a battery, by the chart or by their usual names. */
const touchesBattery = ({ check, chart }: CautionSituation): boolean => {
  const battery = chart === null ? undefined : batteryOf(chart);
  return [check.red, check.black].some((point) => point === battery?.from || point === battery?.to || /^(b[+-]|batt)/i.test(point));
};

/** Shown where the place along a wire is measured, not at a check. */
export const LIMITED_CURRENT: Caution = {
  id: 'limited-current',
  text: 'Drive no more than about 1 A, from a supply that limits it or through a 12 W lamp, never from a bare battery. Both ends of the wire parted from everything else, no module, sensor or restraint-system (airbag) wire; a few seconds at a time, and feel that nothing gets hot.',
};

const RULES: readonly Rule[] = [
  {
    id: 'service-information', applies: () => true,
    text: "The vehicle maker's service information, local codes and licensed practice come before anything said here.",
  },
  {
    id: 'restraint', applies: () => true,
    text: 'Never probe a restraint-system (airbag) circuit or put it on ohms: it may fire. Their connectors are often yellow.',
  },
  {
    // The limits are those of UN Regulation No. 100, definition of high voltage (from memory).
    id: 'high-voltage', applies: () => true,
    text: 'Orange cables, and anything above 60 V DC or 30 V AC, are for trained and authorised people only. Meter and leads must be rated for the place.',
  },
  {
    id: 'held-up', applies: () => true,
    text: 'Vehicle on stands and wheels chocked, never under a jack alone. Keep clear of hot and moving parts.',
  },
  {
    id: 'as-found', applies: ({ check }) => isOnOhms({ check }) || (check.arrangement?.removed.length ?? 0) > 0,
    text: 'Take the as-found readings before anything is unplugged: that wipes a contact and may cure the fault. Note each connector that you take apart.',
  },
  {
    id: 'dead-circuit', applies: isOnOhms,
    text: 'Ohms only on a dead, isolated circuit: on a live one the figure is false and the meter may be harmed.',
  },
  {
    id: 'current-jack', applies: (situation) => quantityOf(situation.check) === 'current',
    text: 'Red lead in the current jack, in series, never across a supply; nobody cranks through it. Back into the volts jack afterwards.',
  },
  {
    id: 'battery-gas', applies: (situation) => isLive(situation) && touchesBattery(situation),
    text: 'Battery gas and fuel vapour ignite from a spark: clip the leads on first, and switch the load afterwards.',
  },
  {
    id: 'earthed-computer',
    applies: (situation) => isLive(situation) && (situation.meter?.isolated ?? null) === null && isWired(situation.meter),
    text: 'Is the cable between meter and computer isolated? If not, and the computer is earthed, the black lead shorts whatever it touches: run the computer on its battery, and say so at the meter.',
  },
  {
    id: 'driver', applies: ({ watching }) => watching === 'road',
    text: 'The driver drives: this needs no attention on the road, and local law applies. Leads clear of the pedals and of moving parts.',
  },
];

/** Cautions for what is about to be done, the general ones first. */
export function cautionsFor(situation: CautionSituation): Caution[] {
  return RULES.filter((rule) => rule.applies(situation)).map(({ id, text }) => ({ id, text }));
}

/** The caution of that id, or undefined. */
export function cautionOf(id: string): Caution | undefined {
  if (id === LIMITED_CURRENT.id) return LIMITED_CURRENT;
  const rule = RULES.find((own) => own.id === id);
  return rule === undefined ? undefined : { id, text: rule.text };
}

/** Why a check must not be made at all. */
export interface Refusal { readonly code: 'RESTRAINT_SYSTEM' | 'METER_NOT_ISOLATED'; readonly message: string }

/** @returns null when the check may be made */
export function refusalOf(situation: CautionSituation): Refusal | null {
  const { check, chart, meter } = situation;
  const restraint = [check.red, check.black].find((point) => isRestraint(chart, point));
  if (restraint !== undefined) {
    return {
      code: 'RESTRAINT_SYSTEM',
      message: `${restraint} belongs to a restraint system (airbag): it is never probed and never put on ohms. Leave it to those who are trained for it.`,
    };
  }
  if (meter?.isolated === false && isLive(situation) && isHighSide(chart, check)) {
    return {
      code: 'METER_NOT_ISOLATED',
      message: `The black lead would touch ${check.black}, which is live, and this meter's cable is not isolated: an earthed computer would short it. `
        + 'Use an isolated cable, a wireless link or a computer on its battery; or measure both points against battery negative and take the difference.',
    };
  }
  return null;
}

function isRestraint(chart: Chart | null, point: string): boolean {
  return (chart !== null && pointOf(chart, wholePoint(point))?.restraint === true) || /air\s?bag|\bsrs\b|restraint|pretensioner|squib/i.test(point);
}

/** The black lead is on the supply side: not joined to battery negative by wires alone. Without a chart, a drop that is not to ground is taken for one. */
function isHighSide(chart: Chart | null, check: Check): boolean {
  if (check.kind === 'ground') return false;
  const battery = chart === null ? undefined : batteryOf(chart);
  if (chart === null || battery === undefined || pointOf(chart, check.black) === undefined) {
    return check.kind === 'voltage-drop' || check.kind === 'fuse' || check.kind === 'current';
  }
  const grounded = new Set([battery.to, ...(chart.chassis === undefined ? [] : [chart.chassis])]);
  for (const point of grounded) {
    for (const span of chart.spans) {
      if (span.from === point) grounded.add(span.to);
      if (span.to === point) grounded.add(span.from);
    }
  }
  return !grounded.has(check.black);
}

/** Reached by a cable to the computer, which may or may not be isolated. */
function isWired(meter: MeterRecord | undefined): boolean {
  return meter !== undefined && !meter.simulated && meter.address.startsWith('serial:');
}
