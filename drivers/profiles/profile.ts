/**
 * What is known of a meter: how far its numbers can be trusted, what its leads add, when it was calibrated, whether its link is
 * isolated from earth. Pure; the shape of the file in which it is kept. Unknown is null.
 */
import { z } from 'zod';
import { COUPLINGS, QUANTITIES, type Reading } from '../reading.ts';

const accuracyRowSchema = z.strictObject({
  quantity: z.enum(QUANTITIES),
  /** null: for every coupling. */
  coupling: z.enum(COUPLINGS).nullable().default(null),
  /** Largest value that this row holds for, SI; null: for all ranges. */
  upTo: z.number().positive().nullable().default(null),
  /** Of the reading: 0.005 for 0.5 %. */
  fraction: z.number().min(0).max(1),
  /** Times the resolution. */
  counts: z.number().min(0),
});

export const profileSchema = z.strictObject({
  profile: z.literal('meter/1'),
  /** Names the file: small letters, digits, hyphens. */
  name: z.string().regex(/^[a-z0-9][a-z0-9-]{0,63}$/, { error: 'has small letters, digits and hyphens only' }),
  label: z.string().min(1),
  /** Address that reaches it, by the serial number of its adapter where it has one. */
  address: z.string().min(1),
  accuracy: z.array(accuracyRowSchema).default([]),
  /** Largest number shown, e.g. 6000. */
  counts: z.number().int().positive().nullable().default(null),
  /** s */
  interval: z.number().positive().nullable().default(null),
  /** s */
  aperture: z.number().positive().nullable().default(null),
  /** Resistance of both leads, ohm, as nulled. */
  leadOhms: z.number().min(0).nullable().default(null),
  /** ISO 8601 dates. */
  leadsNulledOn: z.iso.date().nullable().default(null),
  calibratedOn: z.iso.date().nullable().default(null),
  /** Whether the link to the computer is isolated from earth. Without isolation the black lead is earthed through the computer. */
  isolated: z.boolean().nullable().default(null),
}).refine(({ interval, aperture }) => interval === null || aperture === null || aperture <= interval, { error: 'the aperture cannot be longer than the interval', path: ['aperture'] });

export type Profile = z.output<typeof profileSchema>;

export type ParsedProfile =
  | { readonly kind: 'profile'; readonly profile: Profile }
  | { readonly kind: 'unusable'; readonly faults: readonly string[] };

export function parseProfile(data: unknown): ParsedProfile {
  const parsed = profileSchema.safeParse(data);
  if (parsed.success) return { kind: 'profile', profile: parsed.data };
  return { kind: 'unusable', faults: parsed.error.issues.map((issue) => `${issue.path.join('.') || 'the file'}: ${issue.message}`) };
}

/**
 * Accuracy for one reading: the row of its quantity and coupling with the smallest range that holds it.
 * @returns null when the profile has no row for it
 */
export function accuracyOf(profile: Profile, reading: Pick<Reading, 'quantity' | 'coupling' | 'value'>): { fraction: number; counts: number } | null {
  const size = Number.isNaN(reading.value) ? Infinity : Math.abs(reading.value);
  const rows = profile.accuracy
    .filter((row) => row.quantity === reading.quantity && (row.coupling === null || row.coupling === reading.coupling) && (row.upTo === null || size <= row.upTo))
    .sort((a, b) => (a.upTo ?? Infinity) - (b.upTo ?? Infinity) || Number(a.coupling === null) - Number(b.coupling === null));
  const row = rows[0];
  return row === undefined ? null : { fraction: row.fraction, counts: row.counts };
}

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
