/** A fault in words that a technician would use. */
import type { Suspect } from '../diagnosis/locate/index.ts';
import { joinWords } from '../diagnosis/wording.ts';
import type { Chart } from './chart.ts';
import { colourWords, pointOf } from './chart.ts';
import { figure, ohmsWords } from './path-words.ts';

const KIND_WORDS: Record<Suspect['kind'], string> = {
  open: 'open', 'high-resistance': 'bad joint or strand', 'short-to-ground': 'short to ground', 'short-to-supply': 'short to supply', 'short-between': 'short', none: 'nothing on this chart is wrong',
};

/** E.g. "Bad joint or strand, about 0.35 ohm (0.3 to 0.4), in S3 to C2/4 (black, 2.5 mm², gantry, in the loom; flex and damp): look at the splice S3 and the pin C2/4 first." */
export function suspectWords(chart: Chart, suspect: Suspect, size: { ohms: number; low: number; high: number } | null): string {
  if (suspect.kind === 'none') return 'Nothing on this chart is wrong, or the fault is outside it.';
  const what = suspect.intermittent === true ? 'open only when flexed or driven' : KIND_WORDS[suspect.kind];
  const about = size === null || !isKnown(size) ? '' : `, about ${ohmsWords(size.ohms)} (${ohmsWords(size.low)} to ${ohmsWords(size.high)})`;
  const where = suspect.other === undefined ? `in ${partWords(chart, suspect.at)}` : `between ${partWords(chart, suspect.at)} and ${partWords(chart, suspect.other)}`;
  const span = chart.spans.find((own) => own.id === suspect.at);
  const joints = span === undefined ? [] : [span.from, span.to].flatMap((id) => {
    const kind = pointOf(chart, id)?.kind;
    return kind === 'splice' || kind === 'pin' || kind === 'stud' || kind === 'terminal' ? [`the ${kind} ${id}`] : [];
  });
  const isSeries = suspect.kind === 'open' || suspect.kind === 'high-resistance';
  const look = isSeries && joints.length > 0 ? `: look at ${joinWords(joints)} first` : '';
  const sentence = `${what}${about}, ${where}${look}.`;
  return `${sentence.charAt(0).toUpperCase()}${sentence.slice(1)}`;
}

/** The same in a few words: "bad joint or strand, about 0.35 ohm, in S3 to C2/4". */
export function suspectBrief(suspect: Suspect, size: { ohms: number; low: number; high: number } | null): string {
  if (suspect.kind === 'none') return 'nothing on this chart';
  const what = suspect.intermittent === true ? 'open only when flexed or driven' : KIND_WORDS[suspect.kind];
  return `${what}${size === null || !isKnown(size) ? '' : `, about ${ohmsWords(size.ohms)}`}, ${suspect.other === undefined ? `in ${suspect.at}` : `between ${suspect.at} and ${suspect.other}`}`;
}

/** A size that may be anything over two decades says nothing. */
function isKnown({ low, high }: { low: number; high: number }): boolean {
  return high < 100 * low;
}

/** Places for a sentence: the first two by name, the rest counted. */
export function placeWords(places: readonly string[]): string {
  if (places.length <= 3) return places.length < 2 ? (places[0] ?? '') : `${places.slice(0, -1).join(', ')} or ${places[places.length - 1]}`;
  return `${places.slice(0, 2).join(', ')} or ${places.length - 2} other places`;
}

/** A chance in words: never "100 %", which nothing is. */
export function chanceWords(chance: number): string {
  return chance > 0.999 ? 'over 99.9 %' : `${Number((100 * chance).toPrecision(chance > 0.99 ? 3 : 2))} %`;
}

/** A span or component with what helps to find it. */
export function partWords(chart: Chart, id: string): string {
  const component = chart.components.find((own) => own.id === id);
  if (component !== undefined) return component.name;
  const span = chart.spans.find((own) => own.id === id);
  if (span === undefined) return id;
  const colour = colourWords(span.colour);
  const details = [...(colour === null || colour === '' ? [] : [colour]), `${figure(span.crossSection)} mm²`, ...(span.route === '' ? [] : [span.route])].join(', ');
  return `${span.id} (${details}${span.exposures.length > 0 ? `; suffers ${joinWords(span.exposures)}` : ''})`;
}
