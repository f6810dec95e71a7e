/**
 * A layout: what the bytes of a meter's binary frame mean, as data that can be read from a JSON file, shared, and
 * found out by teaching. Numbers in files may be written as numbers or as hexadecimal text ("0x1F").
 */
import { z } from 'zod';
import { CHECKSUMS, checksumLength } from './checksum.ts';
import { SEGMENTS } from './segments.ts';
import { knownWord } from './units.ts';

/** Longest frame, bytes. */
export const LONGEST_FRAME = 64;

const byte = z.union([z.number().int().min(0).max(255), z.string().regex(/^0x[0-9A-Fa-f]{1,2}$/).transform(Number)]);
const place = z.number().int().min(0).max(LONGEST_FRAME - 1);

/** Bits of one byte of the frame: (frame[at] & mask) === equals. */
const bitsSchema = z.strictObject({ at: place, mask: byte.default(0xff), equals: byte });

/** One segment or flag: bit 0 is the lowest of the byte. */
const bitSchema = z.strictObject({ at: place, bit: z.number().int().min(0).max(7) });

const digitsSchema = z.discriminatedUnion('as', [
  /** Most significant digit first; each names the place of its seven segments. */
  z.strictObject({ as: z.literal('segments'), places: z.array(z.strictObject(Object.fromEntries(SEGMENTS.map((name) => [name, bitSchema])) as Record<(typeof SEGMENTS)[number], typeof bitSchema>)).min(1).max(12) }),
  /** Characters `0` to `9`, most significant first; they may hold blanks in front, a sign and a decimal point. */
  z.strictObject({ as: z.literal('ascii'), at: place, length: z.number().int().min(1).max(16) }),
  /** One digit for each half of a byte, most significant first. */
  z.strictObject({ as: z.literal('bcd'), halves: z.array(z.strictObject({ at: place, half: z.enum(['high', 'low']) })).min(1).max(16) }),
  z.strictObject({ as: z.literal('integer'), at: place, bytes: z.number().int().min(1).max(4), order: z.enum(['high-first', 'low-first']), signed: z.boolean() }),
]);

const word = z.string().refine((text) => knownWord(text) !== undefined, { error: 'is no unit, prefix, coupling or flag that Loomtrace knows' });

/** When all these bits are so, then this holds. Of several rules on one thing the later one wins. */
const ruleSchema = z.strictObject({
  when: z.array(bitsSchema).min(1),
  /** Units, prefixes, couplings and flags as meters print them: "V", "k", "DC", "HOLD". */
  words: z.array(word).optional(),
  /** Digits after the decimal point. */
  decimals: z.number().int().min(-12).max(12).optional(),
  negative: z.literal(true).optional(),
  overRange: z.literal(true).optional(),
  blank: z.literal(true).optional(),
});

/** Names of layouts are names of files. */
export const layoutNameSchema = z.string().regex(/^[a-z0-9][a-z0-9-]{0,63}$/, { error: 'has small letters, digits and hyphens only' });

export const frameLayoutSchema = z.strictObject({
  layout: z.literal('frame/1'),
  name: layoutNameSchema,
  /** Where it comes from: "from memory", "taught on 2026-11-25", a document. */
  origin: z.string().min(1),
  description: z.string().default(''),
  length: z.number().int().min(2).max(LONGEST_FRAME),
  /** What every frame has: by this a frame is found among other bytes. */
  fixed: z.array(bitsSchema).min(1),
  /** Fields of which all values are known: a frame with another value is passed over rather than misread. */
  known: z.array(z.strictObject({ at: place, mask: byte.default(0xff), values: z.array(byte).min(1) })).default([]),
  checksum: z.strictObject({ as: z.enum(CHECKSUMS), from: place, at: place }).optional(),
  digits: digitsSchema,
  /** Digits after the decimal point when no rule says otherwise. */
  decimals: z.number().int().min(-12).max(12).default(0),
  /** Words that always hold. */
  words: z.array(word).default([]),
  rules: z.array(ruleSchema).default([]),
}).superRefine((layout, context) => {
  for (const [path, at] of placesOf(layout)) {
    if (at >= layout.length) context.addIssue({ code: 'custom', path, message: `byte ${at} is not in a frame of ${layout.length} bytes` });
  }
});

export type FrameLayout = z.output<typeof frameLayoutSchema>;
export type FrameRule = z.output<typeof ruleSchema>;
export type FrameBits = z.output<typeof bitsSchema>;

/** Every byte that a layout speaks of, with the path to it. */
function placesOf(layout: Pick<FrameLayout, 'fixed' | 'known' | 'checksum' | 'digits' | 'rules'>): [PropertyKey[], number][] {
  const places: [PropertyKey[], number][] = layout.fixed.map((bits, i) => [['fixed', i, 'at'], bits.at]);
  layout.known.forEach(({ at }, i) => places.push([['known', i, 'at'], at]));
  layout.rules.forEach((rule, i) => rule.when.forEach((bits, j) => places.push([['rules', i, 'when', j, 'at'], bits.at])));
  const { checksum, digits } = layout;
  if (checksum !== undefined) places.push([['checksum', 'at'], checksum.at + checksumLength(checksum.as) - 1]);
  switch (digits.as) {
    case 'ascii': places.push([['digits', 'at'], digits.at + digits.length - 1]); break;
    case 'integer': places.push([['digits', 'at'], digits.at + digits.bytes - 1]); break;
    case 'bcd': digits.halves.forEach((half, i) => places.push([['digits', 'halves', i, 'at'], half.at])); break;
    case 'segments': digits.places.forEach((digit, i) => SEGMENTS.forEach((name) => places.push([['digits', 'places', i, name], digit[name].at]))); break;
  }
  return places;
}

export type ParsedLayout =
  | { readonly kind: 'layout'; readonly layout: FrameLayout }
  /** What is wrong with the file, one sentence for each fault, with the place in it. */
  | { readonly kind: 'unusable'; readonly faults: readonly string[] };

/** Checks data from a layout file. */
export function parseFrameLayout(data: unknown): ParsedLayout {
  const parsed = frameLayoutSchema.safeParse(data);
  if (parsed.success) return { kind: 'layout', layout: parsed.data };
  return { kind: 'unusable', faults: parsed.error.issues.map((issue) => `${issue.path.join('.') || 'the file'}: ${issue.message}`) };
}
