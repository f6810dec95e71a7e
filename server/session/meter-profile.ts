/**
 * The profile of a meter: what its user knows of it. Kept by the service, shown and changed in the dashboard, given to others as a
 * file, and part of every take's record, so that a verdict can be worked out again. Pure. Unknown is null or missing.
 */
import { z } from 'zod';
import { COUPLINGS, QUANTITIES } from '../../drivers/reading.ts';
import type { JudgeSetup } from '../diagnosis/judgement.ts';
import type { MeterRecord } from './session.ts';

const finite = z.number().finite();
const share = finite.min(0).max(1);
const counts = finite.min(0).max(1e6);

const rangeSchema = z.strictObject({
  quantity: z.enum(QUANTITIES),
  coupling: z.enum(COUPLINGS).nullable().default(null),
  upTo: finite.positive().nullable().default(null),
  fraction: share,
  counts,
});

/** Every field may be left out: then it stays as it was. */
export const meterProfileSchema = z.strictObject({
  label: z.string().min(1).max(100).optional(),
  accuracy: z.strictObject({ fraction: share, counts, isAssumed: z.boolean().optional() }).nullable().optional(),
  ranges: z.array(rangeSchema).max(200).optional(),
  displayCounts: finite.int().min(10).max(1e9).nullable().optional(),
  interval: finite.positive().nullable().optional(),
  aperture: finite.positive().nullable().optional(),
  leadOhms: finite.min(0).max(100).nullable().optional(),
  leadsNulled: z.string().max(40).optional(),
  isolated: z.boolean().nullable().optional(),
  calibrated: z.string().max(40).optional(),
});

export type MeterProfile = Partial<Pick<MeterRecord, keyof z.output<typeof meterProfileSchema>>>;

/** Fields of a profile, in the order in which files hold them. */
const FIELDS = Object.keys(meterProfileSchema.shape) as readonly (keyof MeterProfile)[];

/** What is known of a meter, out of its record. */
export function profileOf(meter: MeterRecord): MeterProfile {
  return Object.fromEntries(FIELDS.flatMap((field) => (meter[field] === undefined ? [] : [[field, meter[field]]])));
}

/** What a judge needs to know of the meter, and may be told later for the whole take. */
export function meterSetup({ accuracy, ranges, displayCounts, leadOhms }: MeterRecord): Pick<JudgeSetup, 'accuracy' | 'ranges' | 'displayCounts' | 'leadOhms'> {
  return { accuracy, ranges: ranges ?? [], displayCounts: displayCounts ?? null, leadOhms };
}

const fileSchema = meterProfileSchema.extend({ profile: z.literal('meter/1') });

export type ParsedProfile =
  | { readonly kind: 'profile'; readonly profile: MeterProfile }
  | { readonly kind: 'unusable'; readonly faults: readonly string[] };

/** The text of a file that holds a profile (JSON, format meter/1). */
export function profileText(profile: MeterProfile): string {
  return `${JSON.stringify({ profile: 'meter/1', ...profile }, null, 2)}\n`;
}

/** @param text  of a file as `profileText` writes it; written by hand, or by others, is as good */
export function parseProfile(text: string): ParsedProfile {
  let data: unknown;
  try {
    data = JSON.parse(text);
  } catch (error) {
    return { kind: 'unusable', faults: [`This is no JSON: ${(error as Error).message}`] };
  }
  const parsed = fileSchema.safeParse(data);
  if (!parsed.success) return { kind: 'unusable', faults: parsed.error.issues.map(({ path, message }) => `${path.join('.') || 'the file'}: ${message}`) };
  const { profile: _, ...profile } = parsed.data;
  const { interval, aperture } = profile;
  if (interval && aperture && aperture > interval) return { kind: 'unusable', faults: ['aperture: a meter cannot average for longer than its interval'] };
  return { kind: 'profile', profile: profile as MeterProfile };
}
