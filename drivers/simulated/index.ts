/**
 * The simulated meter: a true signal, seen through the physics of a meter, printed as text and read by
 * the same decoder as a real one. It knows nothing of circuits: whoever wires it hands the signal in. signals.ts, random.ts,
 * ranges.ts and physics.ts are pure; transport.ts runs them on the clock. Read physics.ts first.
 */
export { apertureMean, SimulatedInstrument } from './physics.ts';
export { gaussianFrom, randomFrom } from './random.ts';
export { drift, edgesWithin, isWithin, level, opening, openSchedule, ripple, sum } from './signals.ts';

export type { InstrumentOptions, SimulatedReading } from './physics.ts';
export type { Interval, OpenScheduleOptions, SimulatedSignal } from './signals.ts';
