/** What the demo's simulated meter reads, wherever its leads are: the circuit model with a hidden fault, over time. */
import type { Coupling, Quantity } from '../../drivers/reading.ts';
import type { Fault } from '../diagnosis/circuit/index.ts';
import { quantityOf } from '../session/check-function.ts';
import { readingOf } from '../session/check-reading.ts';
import { circuitOf } from '../session/chart-circuit.ts';
import { checksFor } from '../session/checks.ts';
import type { Check } from '../session/session.ts';
import { alder7Chart } from './alder7-chart.ts';
import { FoldingSchedule } from './folding.ts';

export type Alder7Fault = 'none' | 'splice' | 'splice-flex';

/** What can be simulated. */
export const alder7Faults: readonly { readonly id: Alder7Fault; readonly label: string }[] = [
  { id: 'splice', label: 'Bad crimp at splice S3: 0.35 ohm at rest, opens as the gantry folds' },
  { id: 'splice-flex', label: 'Crimp at splice S3 good at rest, opens as the gantry folds' },
  { id: 'none', label: 'No fault' },
];

/** What is complained of; what is wrong is for the user to find. */
export const ALDER7_COMPLAINT = 'Orchard work platform “Alder 7”: the conveyor clutch and the work lamp die together as the gantry folds.';

/** The span with the bad crimp at its beginning. */
export const ALDER7_FAULTY_SPAN = 'S3 to C2/4';
/** Resistance of the bad crimp at rest, ohm. */
export const ALDER7_CRIMP_OHMS = 0.35;

export const alder7Checks: readonly Check[] = checksFor(alder7Chart, 'clutch and lamp');

/** The check to begin with: the ground of the clutch under load, which shows the fault at once. */
export const alder7DefaultCheck: Check = alder7Checks.find((check) => check.id === 'ground CL-') as Check;

/** Faults at rest. */
export function alder7FaultsAtRest(fault: Alder7Fault): readonly Fault[] {
  return fault === 'splice' ? [{ kind: 'high-resistance', at: ALDER7_FAULTY_SPAN, ohms: ALDER7_CRIMP_OHMS }] : [];
}

/** A true signal, before any meter: SI; Infinity is over-range. */
export interface TrueSignal {
  readonly quantity: Quantity;
  readonly coupling: Coupling;
  /** @param time  s from the meter's start, >= 0 */
  at(time: number): number;
}

export interface SignalOptions {
  readonly check: Check;
  readonly fault: Alder7Fault;
  /** Of the folding; equal seeds fold at equal times whatever is measured. */
  readonly seed: number;
  /** Whether the harness is moved where the fault is, so that the fault can open; always when left out. */
  readonly isMoved?: () => boolean;
}

/** Slow change of battery and temperature, part of the reading, and its period, s. */
const DRIFT = { share: 0.001, period: 97 };
/** Ripple of the supply, part of the reading, and its frequency, Hz. */
const RIPPLE = { share: 0.0003, frequency: 37 };

/** The signal of a check, and the schedule on which the fault opens. */
export function simulatedSignal(options: SignalOptions): TrueSignal & { readonly folding: FoldingSchedule | null } {
  const { check, fault, seed, isMoved = () => true } = options;
  const circuit = circuitOf(alder7Chart);
  const quantity = quantityOf(check);
  const atRest = readingOf(alder7Chart, circuit, check, alder7FaultsAtRest(fault));
  const whenOpen = fault === 'none' ? atRest : readingOf(alder7Chart, circuit, check, [{ kind: 'open', at: ALDER7_FAULTY_SPAN }]);
  const folding = fault === 'none' ? null : new FoldingSchedule(seed);
  const ripples = quantity !== 'resistance';
  return {
    quantity,
    coupling: ripples ? 'dc' : 'none',
    folding,
    at: (time) => {
      const level = folding?.isOpen(time) === true && isMoved() ? whenOpen : atRest;
      const drift = DRIFT.share * Math.sin((2 * Math.PI * time) / DRIFT.period);
      const ripple = ripples ? RIPPLE.share * Math.sin(2 * Math.PI * RIPPLE.frequency * time) : 0;
      return level * (1 + drift + ripple);
    },
  };
}
