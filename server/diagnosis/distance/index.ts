/** How far along a wire a fault is. Pure, imports nothing. Read distance.ts. */
export { distanceByCurrent, distanceFromBothEnds, distanceWords, partialResistances } from './distance.ts';
export type { Distance, Driven, Measured, PartialResistance, SpanDrop, TwoEnded } from './distance.ts';
