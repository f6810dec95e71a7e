/** How far along a wire a fault is, from electrical readings at its ends, with the uncertainty that the meter leaves. */

/** A figure with its standard uncertainty, both SI. */
export interface Measured { readonly value: number; readonly uncertainty: number }

export interface Distance {
  /** From the first end, m. */
  readonly distance: number;
  /** Standard uncertainty, m. */
  readonly uncertainty: number;
  /** Range of two standard uncertainties, kept on the wire, m. */
  readonly low: number;
  readonly high: number;
  /** Why the figure should not be trusted; empty when nothing speaks against it. */
  readonly doubts: readonly string[];
}

export interface TwoEnded {
  /** Of the wire, m. */
  readonly length: number;
  /** End to end, leads nulled, ohm: gives the resistance of a metre as it is, not as a table has it. */
  readonly endToEnd: Measured;
  /** From the first and from the second end to ground, leads nulled, ohm. */
  readonly fromFirst: Measured;
  readonly fromSecond: Measured;
}

/**
 * Short to ground, by the resistance to ground from both ends: `x = L/2 + (R1 - R2) / (2 r)`. The resistance of the
 * short itself cancels, if it stays put between the two readings.
 * @throws {RangeError} for a length or resistance that is not above 0
 */
export function distanceFromBothEnds({ length, endToEnd, fromFirst, fromSecond }: TwoEnded): Distance {
  const perMetre = ohmsPerMetre(length, endToEnd);
  const difference = fromFirst.value - fromSecond.value;
  const distance = length / 2 + difference / (2 * perMetre);
  const uncertainty = Math.hypot(
    fromFirst.uncertainty / (2 * perMetre), fromSecond.uncertainty / (2 * perMetre), (difference / (2 * perMetre)) * (endToEnd.uncertainty / endToEnd.value),
  );
  // What is left for the short when the wire is taken off; below zero the readings can't belong together.
  const short = (fromFirst.value + fromSecond.value - endToEnd.value) / 2;
  const shortUncertainty = 0.5 * Math.hypot(fromFirst.uncertainty, fromSecond.uncertainty, endToEnd.uncertainty);
  const doubts = [
    ...(short < -2 * shortUncertainty ? ['both readings together are less than the wire itself: null the leads and measure again'] : []),
    ...(short > 20 * endToEnd.value ? ['the short has far more resistance than the wire: a small change of it between the readings moves the place; drive a current instead'] : []),
  ];
  return onWire(distance, uncertainty, length, doubts);
}

export interface Driven {
  /** Of the wire, m. */
  readonly length: number;
  readonly endToEnd: Measured;
  /** Driven into the first end, about 1 A, limited; A. */
  readonly current: Measured;
  /** To ground at the first end, and at the second, where no current flows, V. */
  readonly atFirst: Measured;
  readonly atSecond: Measured;
}

/**
 * Short to ground, by a limited current from one end: the far end shows the voltage at the short, so
 * `V1 - V2 = I r x`. The short may change between readings only as much as the current shows.
 * @throws {RangeError} for a length, resistance or current that is not above 0
 */
export function distanceByCurrent({ length, endToEnd, current, atFirst, atSecond }: Driven): Distance {
  if (!(current.value > 0)) throw new RangeError(`current must be above 0 A, got ${current.value}`);
  const perMetre = ohmsPerMetre(length, endToEnd);
  const distance = (atFirst.value - atSecond.value) / (current.value * perMetre);
  const uncertainty = Math.hypot(
    atFirst.uncertainty / (current.value * perMetre), atSecond.uncertainty / (current.value * perMetre),
    distance * (current.uncertainty / current.value), distance * (endToEnd.uncertainty / endToEnd.value),
  );
  return onWire(distance, uncertainty, length, atSecond.value < -2 * atSecond.uncertainty ? ['the far end is below ground: check the leads'] : []);
}

export interface SpanDrop {
  /** Span or part. */
  readonly at: string;
  /** Drop along it with the working current flowing, V. */
  readonly drop: Measured;
  /** Current in it, A. */
  readonly current: Measured;
  /** What it should have by the model, ohm, with the tolerance of the chart as its uncertainty. */
  readonly healthy: Measured;
}

export interface PartialResistance {
  readonly at: string;
  /** Beyond the healthy resistance, ohm. */
  readonly excess: number;
  readonly uncertainty: number;
  /** More than two standard uncertainties beyond. */
  readonly isBad: boolean;
}

/**
 * Partial resistance by the drop along the circuit: `V / I - R` of each span, the worst first. It names the span;
 * where within the span, only a reading inside it could tell.
 * @throws {RangeError} for a current that is not above 0
 */
export function partialResistances(drops: readonly SpanDrop[]): PartialResistance[] {
  return drops
    .map(({ at, drop, current, healthy }) => {
      if (!(current.value > 0)) throw new RangeError(`current must be above 0 A, got ${current.value}: without current there is no drop to see`);
      const ohms = drop.value / current.value;
      const excess = ohms - healthy.value;
      const uncertainty = Math.hypot(drop.uncertainty / current.value, ohms * (current.uncertainty / current.value), healthy.uncertainty);
      return { at, excess, uncertainty, isBad: excess > 2 * uncertainty };
    })
    .sort((left, right) => right.excess - left.excess);
}

/** "1.2 m +/- 0.9 m: with a 10 milliohm meter +/- 0.3 m", the second part when a finer meter is given. */
export function distanceWords(distance: Distance, finer?: { readonly name: string; readonly distance: Distance }): string {
  // As many decimals as the uncertainty has.
  const own = `${distance.distance.toFixed(2 * distance.uncertainty >= FINE ? 1 : 2)} m +/- ${twoFigures(2 * distance.uncertainty)} m`;
  const better = finer === undefined ? '' : `: with ${finer.name} +/- ${twoFigures(2 * finer.distance.uncertainty)} m`;
  return `${own}${better}`;
}

/** Below this an uncertainty is told in centimetres, m. */
const FINE = 0.095;

function twoFigures(metres: number): string {
  return metres >= FINE ? metres.toFixed(1) : metres.toFixed(2);
}

function ohmsPerMetre(length: number, endToEnd: Measured): number {
  if (!(length > 0)) throw new RangeError(`length must be above 0 m, got ${length}`);
  if (!(endToEnd.value > 0)) throw new RangeError(`end-to-end resistance must be above 0 ohm, got ${endToEnd.value}: the meter is too coarse for this wire`);
  return endToEnd.value / length;
}

function onWire(distance: number, uncertainty: number, length: number, doubts: readonly string[]): Distance {
  const clip = (metres: number): number => Math.min(length, Math.max(0, metres));
  const isOff = distance < -2 * uncertainty || distance > length + 2 * uncertainty;
  const [low, high] = [clip(distance - 2 * uncertainty), clip(distance + 2 * uncertainty)];
  return {
    distance: clip(distance), uncertainty, low, high,
    doubts: [
      ...doubts, ...(isOff ? ['the place comes out beyond the end of the wire: the readings do not belong to one short on it'] : []),
      ...(low === 0 && high === length ? ['it may be anywhere along the wire: these readings are too coarse to tell where'] : []),
    ],
  };
}
