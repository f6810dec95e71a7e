/** The resistance of the leads, from readings with their tips held together. Pure. */
import type { Reading } from './reading.ts';

export type LeadNull =
  | { readonly kind: 'nulled'; readonly leadOhms: number }
  | { readonly kind: 'refused'; readonly why: string };

/** Readings wanted with the leads held together. */
export const NULL_READINGS = 8;
/** Leads with more than this are broken or not held together, ohm. Common practice, no source. */
const MOST_LEAD_OHMS = 2;

/** The resistance of the leads from readings with their tips held together: the middle one of the last eight, when they agree. */
export function nullLeads(readings: readonly Reading[]): LeadNull {
  const last = readings.slice(-NULL_READINGS);
  if (last.some((reading) => reading.quantity !== 'resistance')) return { kind: 'refused', why: 'Set the meter to ohms first.' };
  if (last.length < NULL_READINGS) return { kind: 'refused', why: `Hold the tips together for ${NULL_READINGS} readings.` };
  if (last.some((reading) => Number.isNaN(reading.value))) return { kind: 'refused', why: 'The tips came apart; hold them together.' };
  const values = last.map((reading) => reading.value).sort((a, b) => a - b);
  const middle = ((values[NULL_READINGS / 2 - 1] as number) + (values[NULL_READINGS / 2] as number)) / 2;
  const resolution = Math.max(...last.map((reading) => (Number.isNaN(reading.resolution) ? 0 : reading.resolution)));
  if ((values.at(-1) as number) - (values[0] as number) > Math.max(4 * resolution, 0.02)) return { kind: 'refused', why: 'The reading is not steady; press the tips together firmly.' };
  if (middle > MOST_LEAD_OHMS) return { kind: 'refused', why: `${middle} ohm is too much for leads: are they whole, and the tips clean?` };
  return { kind: 'nulled', leadOhms: Math.max(0, middle) };
}
