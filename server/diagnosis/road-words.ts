/** What a road take's association is said as. */
import { SIGNIFICANT } from './claims.ts';
import { FEWEST_CLUSTERS } from './road.ts';
import type { MarkAssociation } from './road.ts';
import { sayCount, tidy, tidyBeside } from './wording.ts';

/** One sentence on dropouts and one kind of mark: that they go together, that nothing shows it, or that there are too few to tell. */
export function sayMarkAssociation({ text, marks, near, away, rateRatio, p, correctedP }: MarkAssociation): string {
  const name = text === '' ? 'the marks' : `"${text}"`;
  const all = near + away;
  const share = `${near} of ${sayCount(all, 'separate dropout', 'separate dropouts')} began near ${sayCount(marks, 'mark', 'marks')} of ${name}`;
  const chance = correctedP ?? p;
  if (chance === null) return `${share}: too few to tell, it takes ${FEWEST_CLUSTERS} apart from each other in stretches with marks.`;
  const odds = sayCoincidence(chance);
  if (chance > SIGNIFICANT) return `${share}: no link shown (${odds}).`;
  const rate = rateRatio === null ? 'and none away from them' : `${tidy(rateRatio)} times the rate away from them`;
  return `${share}, ${rate}: they go together (${odds}). That is no proof of a cause: marks pressed because a dropout was heard go together too.`;
}

/** "chance of that by coincidence 0.012" */
export function sayCoincidence(p: number): string {
  return `chance of that by coincidence ${p < 0.001 ? 'below 0.001' : tidyBeside(SIGNIFICANT, p)}`;
}
