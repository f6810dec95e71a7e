/** Works out from a few lines and what the display showed for each, which field of the line it is and how it is written. Pure. */
import { TextLineDecoder, type TextLineOptions } from '../decoders/text-lines.ts';
import { readShownText } from './shown.ts';

export interface TextExample {
  readonly line: string;
  /** As on the display, e.g. "12.34 V". */
  readonly shown: string;
}

export type TaughtText =
  | { readonly kind: 'taught'; readonly options: TextLineOptions }
  /** More than one field shows it: type the display for this line, or for one where the fields differ. */
  | { readonly kind: 'ambiguous'; readonly ways: readonly TextLineOptions[]; readonly askLine: string | null }
  | { readonly kind: 'failed'; readonly why: string };

/** Values that one line may hold. */
const MOST_FIELDS = 12;

/** @param lines  all captured lines: the one to ask for next is among them */
export function teachText(lines: readonly string[], examples: readonly TextExample[]): TaughtText {
  if (examples.length === 0) return { kind: 'failed', why: 'type what the display shows for one line at least' };
  const units = new Set<string>();
  const values: { line: string; value: number | null }[] = [];
  const plain = new TextLineDecoder();
  for (const { line, shown } of examples) {
    const parsed = readShownText(shown);
    const decoded = plain.decodeLine(shown.trim());
    if (parsed === null || decoded.kind !== 'reading') return { kind: 'failed', why: `"${shown}" is no number and no over-range; type what the display shows, such as -12.34 V or OL` };
    if (parsed.words.length > 0) units.add(parsed.words.join(' '));
    values.push({ line, value: parsed.kind === 'number' ? decoded.reading.value : null });
  }
  const ways: TextLineOptions[] = [];
  // A typed unit is taken for lines that have none themselves.
  const unitChoices = units.size === 0 ? [undefined] : [...units];
  for (const field of [undefined, ...Array.from({ length: MOST_FIELDS }, (_, i) => i + 1)]) {
    for (const decimal of ['auto', 'point', 'comma'] as const) {
      for (const unit of unitChoices) {
        const options: TextLineOptions = { ...(field === undefined ? {} : { field }), ...(decimal === 'auto' ? {} : { decimal }), ...(unit === undefined ? {} : { unit }) };
        if (fits(options, values)) ways.push(options);
      }
    }
  }
  if (ways.length === 0) return { kind: 'failed', why: 'no field of these lines is what was typed; was each value read at the moment of its line?' };
  const told = (options: TextLineOptions): string => lines.map((line) => textOf(options, line)).join('|');
  const first = ways[0] as TextLineOptions;
  const different = ways.filter((options, i) => ways.findIndex((other) => told(other) === told(options)) === i);
  if (different.length === 1) return { kind: 'taught', options: first };
  const askLine = lines.find((line) => new Set(different.map((options) => textOf(options, line))).size > 1) ?? null;
  return { kind: 'ambiguous', ways: different, askLine };
}

function fits(options: TextLineOptions, values: readonly { line: string; value: number | null }[]): boolean {
  const decoder = new TextLineDecoder(options);
  return values.every(({ line, value }) => {
    const decoded = decoder.decodeLine(line);
    return decoded.kind === 'reading' && (value === null ? Number.isNaN(decoded.reading.value) : decoded.reading.value === value);
  });
}

function textOf(options: TextLineOptions, line: string): string {
  const decoded = new TextLineDecoder(options).decodeLine(line);
  return decoded.kind === 'reading' ? `${decoded.reading.value} ${decoded.reading.quantity}` : decoded.kind;
}
