/**
 * A layout of lines of text: which value of the line is meant, and what it is, as data that can be read from a JSON file, shared, and
 * found out by teaching.
 */
import { z } from 'zod';
import { layoutNameSchema, type FrameLayout, parseFrameLayout } from './frame-layout.ts';
import { TextLineDecoder, type TextLineOptions } from './text-lines.ts';

export const textLayoutSchema = z.strictObject({
  layout: z.literal('text/1'),
  name: layoutNameSchema,
  /** Where it comes from: "from memory", "taught on 2026-11-25", a document. */
  origin: z.string().min(1),
  description: z.string().default(''),
  /** What ends a line. */
  newline: z.enum(['lf', 'cr']).default('lf'),
  /** Which value of the line, counted from 1; chosen by its unit when left out. */
  field: z.number().int().min(1).max(99).optional(),
  decimal: z.enum(['auto', 'point', 'comma']).optional(),
  /** Unit of a number that comes without one. */
  unit: z.string().min(1).max(20).refine(isUnit, { error: 'is no unit that can be read' }).optional(),
});

export type TextLayout = z.output<typeof textLayoutSchema>;

/** Any layout that a file can hold. */
export type Layout = FrameLayout | TextLayout;

export type ParsedAnyLayout =
  | { readonly kind: 'layout'; readonly layout: Layout }
  /** What is wrong with the file, one sentence for each fault, with the place in it. */
  | { readonly kind: 'unusable'; readonly faults: readonly string[] };

/** Checks data from a layout file of either kind. */
export function parseLayout(data: unknown): ParsedAnyLayout {
  if (!(typeof data === 'object' && data !== null && 'layout' in data && data.layout === 'text/1')) return parseFrameLayout(data);
  const parsed = textLayoutSchema.safeParse(data);
  if (parsed.success) return { kind: 'layout', layout: parsed.data };
  return { kind: 'unusable', faults: parsed.error.issues.map((issue) => `${issue.path.join('.') || 'the file'}: ${issue.message}`) };
}

/** The settings of the decoder that reads such lines. */
export function textOptions({ field, decimal, unit }: Pick<TextLayout, 'field' | 'decimal' | 'unit'>): TextLineOptions {
  return { ...(field === undefined ? {} : { field }), ...(decimal === undefined ? {} : { decimal }), ...(unit === undefined ? {} : { unit }) };
}

function isUnit(text: string): boolean {
  try {
    new TextLineDecoder({ unit: text });
    return true;
  } catch {
    return false;
  }
}
