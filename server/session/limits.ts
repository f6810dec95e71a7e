/**
 * Limits of checks: what common practice allows, and what the model of the circuit makes of it.
 * Every figure here is common practice, no source, unless a standard is named; the basis says so
 * on the screen.
 */
import type { CheckKind, Limits } from '../diagnosis/judgement.ts';

export interface BasedLimits { readonly limits: Limits; readonly basis: string }

/** Nominal voltages of the systems that are worked on, V. */
export const SYSTEM_VOLTAGES = [12, 24, 48] as const;
export type SystemVoltage = (typeof SYSTEM_VOLTAGES)[number];

/** What a battery of a system reads, flat and cranking up to charging hard, V (common practice, no source). */
const BATTERY_VOLTS: Readonly<Record<SystemVoltage, readonly [number, number]>> = { 12: [7.5, 15.5], 24: [17, 31], 48: [36, 60] };

/** The system that a battery with this voltage belongs to, nominal V; null where it may be any or none. @param volts  across the battery, V */
export function systemOfBattery(volts: number): SystemVoltage | null {
  return SYSTEM_VOLTAGES.find((system) => volts >= BATTERY_VOLTS[system][0] && volts <= BATTERY_VOLTS[system][1]) ?? null;
}

/** Allowed by common practice, no source; V for 12 V systems (others: `voltageFactor` times), ohm. */
export const PRACTICE = {
  supplyDrop: 0.5,
  batteryAtRest: 12.2,
  switchedOff: 0.1,
  groundAboveModel: 0.1,
  groundWhole: 0.5,
  groundElectronics: 0.05,
  joint: 0.1,
  fuse: 0.1,
  wire: 0.2,
  contact: 0.3,
  wholeSide: 0.5,
  strayVoltage: 0.1,
  insulation: 1e6,
  jointOhms: 0.05,
  signalWireOhms: 1,
} as const;

/** 24 V systems are allowed twice the volts, and 48 V systems four times (scaled, for want of a practice of their own). */
export function voltageFactor(systemVoltage: SystemVoltage): number {
  return systemVoltage / 12;
}

/**
 * Limits for a check made by hand, when nothing is known of the circuit.
 * @param systemVoltage  nominal, V
 */
export function defaultLimits(kind: CheckKind, systemVoltage: SystemVoltage): BasedLimits {
  const times = voltageFactor(systemVoltage);
  const say = (low: number | null, high: number | null, why: string): BasedLimits => ({ limits: { low, high }, basis: why === '' ? '' : `common practice${times === 1 || low === PRACTICE.insulation ? '' : ` for ${systemVoltage} V systems`}: ${why}` });
  switch (kind) {
    case 'supply':
    case 'switched-supply': {
      const low = round((PRACTICE.batteryAtRest - PRACTICE.supplyDrop) * times, 2);
      return say(low, null, `at most ${PRACTICE.supplyDrop * times} V below a battery of ${PRACTICE.batteryAtRest * times} V, load on`);
    }
    case 'ground':
      return say(null, PRACTICE.groundWhole * times, `whole ground path at most ${PRACTICE.groundWhole * times} V, load on (one joint: ${PRACTICE.joint} V)`);
    case 'fuse':
      return say(null, PRACTICE.fuse, `at most ${PRACTICE.fuse} V from blade to blade, load on`);
    case 'short-to-ground':
    case 'short-between':
      return say(PRACTICE.insulation, null, 'at least 1 Mohm, dead and isolated; 0.1 to 1 Mohm may be damp');
    case 'short-to-supply':
      return say(null, PRACTICE.strayVoltage * times, `at most ${PRACTICE.strayVoltage * times} V on the isolated wire, a lamp as load`);
    case 'continuity':
      return say(null, PRACTICE.signalWireOhms, 'at most 1 ohm end to end, leads nulled; a wire that carries a load needs far less');
    case 'voltage-drop':
      return say(null, PRACTICE.wire * times, `at most ${PRACTICE.wire * times} V along a wire, working current flowing`);
    case 'sensor-sweep':
      return say(0.25, 4.75, 'signal of a 5 V sensor between 0.25 and 4.75 V');
    case 'resistance':
    case 'current':
      return { limits: { low: null, high: null }, basis: '' };
  }
}

/** To a number of decimals, so that a limit is a figure that a person can read. */
export function round(value: number, decimals: number): number {
  return Math.round(value * 10 ** decimals) / 10 ** decimals;
}
