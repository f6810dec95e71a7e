/**
 * The circuit as a resistive network: what every check should read, healthy and under a fault.
 * May import ml-matrix only. Read circuit.ts first (what is modelled), then solve.ts (what a
 * meter reads); network.ts is the nodal analysis under it, wire.ts the copper.
 */
export { AS_FOUND, FAULT_KINDS, half, wholePoint } from './circuit.ts';
export { FLOATING_OHMS, SolvedNetwork, solveNetwork } from './network.ts';
export {
  COLD_BELOW, FUSE_BLOWS_AT, METER_HIGHEST_OHMS, METER_INPUT_OHMS, METER_OHMS_CURRENT, SHORTEST_OHMS, SolvedCircuit, TEST_LAMP_COLD_OHMS, TEST_LAMP_OHMS, batteryVolts, blownFuses,
  ends, solveCircuit, solveWith,
} from './solve.ts';
export { LOOM_FARADS_PER_METRE, pickupVolts } from './pickup.ts';
export { COPPER_RESISTIVITY, COPPER_TEMPERATURE_COEFFICIENT, crossSectionOfGauge, wireOhms } from './wire.ts';
export type { Arrangement, Circuit, CircuitPart, Fault, FaultKind, Leak } from './circuit.ts';
export type { NetworkElement, Resistor, VoltageSource } from './network.ts';
export type { Pickup } from './pickup.ts';
export type { PlacedPart } from './solve.ts';
