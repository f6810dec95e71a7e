/**
 * The battery beside the take: did the source move, or the harness? A second meter across the battery tells for every dropout; without one, a
 * reading of the battery before and after tells at least whether the source stayed. Pure.
 */
import type { Gap, Judgement } from '../diagnosis/judgement.ts';
import { sayCount, sayValue } from '../diagnosis/wording.ts';

export interface BatteryReading {
  /** Session clock, s. */
  readonly at: number;
  /** V */
  readonly volts: number;
}

export interface SourceStanding {
  /** Dropouts that came with a dip of the battery. */
  readonly together: number;
  /** Dropouts while the battery stayed. */
  readonly alone: number;
  /** Dropouts while the reference had no readings. */
  readonly blind: number;
  /** A sentence; empty without dropouts. */
  readonly message: string;
}

/** A dip of one belongs to a dropout of the other when they are no further apart than this and both intervals, s (common practice, no source). */
const TOGETHER_WITHIN = 0.1;
/** A battery that moves by more than this between before and after has moved, V (common practice, no source). */
const STAYED_WITHIN = 0.3;

/** What the second meter says of the take's dropouts. */
export function compareWithSource(take: Judgement, battery: Judgement): SourceStanding {
  const reach = TOGETHER_WITHIN + (take.interval ?? 0) + (battery.interval ?? 0);
  const meets = (dropout: Gap) => ({ start, end }: Gap): boolean => start <= dropout.end + reach && end >= dropout.start - reach;
  const dips: readonly Gap[] = [...battery.dropouts, ...battery.sags];
  let together = 0;
  let blind = 0;
  for (const dropout of take.dropouts) {
    if (dips.some(meets(dropout))) together++;
    else if (battery.samples === 0 || battery.gaps.some(meets(dropout))) blind++;
  }
  const alone = take.dropouts.length - together - blind;
  return { together, alone, blind, message: saySource(together, alone, blind) };
}

function saySource(together: number, alone: number, blind: number): string {
  if (together + alone + blind === 0) return '';
  const parts = [
    ...(together > 0 ? [`${sayCount(together, 'dropout', 'dropouts')} together with a dip of the battery: the source, not the harness`] : []),
    ...(alone > 0 ? [`${sayCount(alone, 'dropout', 'dropouts')} while the battery stayed: the harness`] : []),
    ...(blind > 0 ? [`${sayCount(blind, 'dropout', 'dropouts')} while the battery was not watched`] : []),
  ];
  return `${parts.join('; ')}.`;
}

/** Whether the battery is elsewhere after than before; false while either is missing. */
export function hasSourceMoved(before: BatteryReading | null, after: BatteryReading | null): boolean {
  return before !== null && after !== null && Math.abs(before.volts - after.volts) > STAYED_WITHIN;
}

/** Did the source stay from before to after? Empty while either is missing. */
export function sayBeforeAfter(before: BatteryReading | null, after: BatteryReading | null): string {
  if (before === null || after === null) return '';
  const [first, last] = [before, after].map(({ volts }) => sayValue(volts, 'voltage', 0.01)) as [string, string];
  return !hasSourceMoved(before, after)
    ? `The battery read ${first} before and ${last} after: the source stayed.`
    : `The battery read ${first} before and ${last} after: the source moved, so compare readings with care.`;
}
