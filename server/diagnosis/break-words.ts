/** What several meters on one circuit say of the place of the break, in sentences. */
import type { BreakPlace, CoincidenceReport } from './coincidence.ts';
import { sayCount, sayShare } from './wording.ts';

/** A place this likely is told as found (common practice, no source). */
export const FOUND_CHANCE = 0.95;
/** Places less likely than this are not worth a word. */
const WORTH_TELLING = 0.05;
/** Patterns that are told. */
const PATTERNS = 3;

/** @param isOnLine  the points lie on one line, so that the places could be weighed; empty while there is nothing to say */
export function sayBreak({ coincidences, places }: CoincidenceReport, meters: readonly string[], isOnLine: boolean): string {
  if (coincidences.length === 0) return `No dropout at any of the ${meters.length} meters so far.`;
  const seen = saySeen(coincidences);
  const [best, ...others] = places;
  if (!isOnLine || best === undefined) return `${seen} The chart has no one line through these points, so the place can't be told from that.`;
  if (best.chance >= FOUND_CHANCE) return `${sayPlace(best.place)} (${percent(best.chance)}). ${seen}`;
  const rest = others.filter(({ chance }) => chance >= WORTH_TELLING).slice(0, 2).map(({ place, chance }) => `${shortPlace(place)} ${percent(chance)}`);
  return `Not settled: ${[`${shortPlace(best.place)} ${percent(best.chance)}`, ...rest].join(', ')}. ${seen}`;
}

function sayPlace(place: BreakPlace): string {
  if (place.kind === 'between') return `The break lies between ${place.from} and ${place.to}`;
  return place.kind === 'source' ? 'The source itself falls: not the harness' : `The leads at ${place.meter} slip: fasten and prove them`;
}

export function shortPlace(place: BreakPlace): string {
  return place.kind === 'between' ? `between ${place.from} and ${place.to}` : place.kind === 'source' ? 'the source' : `the leads at ${place.meter}`;
}

/** "3 dropouts seen at CL- to B-, not at C2/4 to B-; 1 dropout seen at both." */
function saySeen(coincidences: CoincidenceReport['coincidences']): string {
  const patterns = new Map<string, number>();
  for (const { seenBy, missedBy, blind } of coincidences) {
    const pattern = missedBy.length + blind.length === 0
      ? `seen at ${seenBy.length === 2 ? 'both meters' : 'all meters'}`
      : `seen at ${seenBy.join(' and ')}${missedBy.length > 0 ? `, not at ${missedBy.join(' nor ')}` : ''}${blind.length > 0 ? `, with no readings then at ${blind.join(' and ')}` : ''}`;
    patterns.set(pattern, (patterns.get(pattern) ?? 0) + 1);
  }
  const told = [...patterns].sort(([, a], [, b]) => b - a).slice(0, PATTERNS);
  return `${told.map(([pattern, n]) => `${sayCount(n, 'dropout', 'dropouts')} ${pattern}`).join('; ')}.`;
}

const percent = (chance: number): string => sayShare(chance, FOUND_CHANCE);
