/** The events of a judgement as rows, so that they can be listed and searched without the samples. Derived: the judgement is what counts. */
import type { Judgement } from '../diagnosis/judgement.ts';

export interface EventRow {
  readonly kind: string;
  readonly start: number;
  readonly end: number;
  readonly count: number | null;
  readonly depth: number | null;
  readonly overRange: number | null;
  readonly duration: number | null;
}

/** In the order in which they began. */
export function eventRows({ dropouts, sags, shifts, gaps }: Judgement): EventRow[] {
  const none = { count: null, depth: null, overRange: null, duration: null };
  return [
    ...dropouts.map((d) => ({ kind: 'dropout', start: d.start, end: d.end, count: d.count, depth: d.depth, overRange: d.overRange ? 1 : 0, duration: d.duration.estimate })),
    ...sags.map((s) => ({ ...none, kind: 'sag', start: s.start, end: s.end, depth: s.depth })),
    ...shifts.map((s) => ({ ...none, kind: 'shift', start: s.at, end: s.at, depth: s.from === null || s.to === null ? null : s.to - s.from })),
    ...gaps.map((g) => ({ ...none, kind: 'gap', start: g.start, end: g.end })),
  ].sort((a, b) => a.start - b.start);
}
