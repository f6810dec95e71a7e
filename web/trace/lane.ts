/** The lane under a trace: what happened and when, each kind in a row of its own with a shape of its own. Pure. */
import type { Judgement } from '../../server/diagnosis/judgement.ts';
import { accountOf } from '../../server/session/take-account.ts';
import type { MarkKind, MarkRecord } from '../../server/session/session.ts';

/** Marks of a moment; the others hold until the next one, or are counted. */
const MOMENTS: ReadonlySet<MarkKind> = new Set(['mark', 'provocation', 'reseat', 'caution', 'condition']);

export interface LaneWords {
  readonly proof: string;
  mark(kind: MarkKind, text: string): string;
}

export const LANE_ROWS = ['dropout', 'other', 'gap', 'mark'] as const;
export type LaneRow = (typeof LANE_ROWS)[number];

export interface LaneItem {
  readonly kind: 'dropout' | 'sag' | 'shift' | 'gap' | 'mark' | 'zone';
  readonly row: LaneRow;
  /** Number within its kind, from 1. */
  readonly number: number;
  /** Session clock, s. */
  readonly from: number;
  readonly to: number;
  readonly text: string;
}

/**
 * Everything of a take that has a time, in order of kind and time.
 * @param end  where the last zone ends, s
 * @param words  for what has no words of its own
 */
export function laneItems(judgement: Judgement | null, marks: readonly MarkRecord[], end: number, words: LaneWords): LaneItem[] {
  const items: LaneItem[] = [];
  judgement?.dropouts.forEach((d, i) => items.push({ kind: 'dropout', row: 'dropout', number: i + 1, from: d.start, to: d.end, text: '' }));
  judgement?.sags.forEach((s, i) => items.push({ kind: 'sag', row: 'other', number: i + 1, from: s.start, to: s.end, text: '' }));
  judgement?.shifts.forEach((s, i) => items.push({ kind: 'shift', row: 'other', number: i + 1, from: s.at, to: s.at, text: '' }));
  judgement?.gaps.forEach((g, i) => items.push({ kind: 'gap', row: 'gap', number: i + 1, from: g.start, to: g.end, text: '' }));
  const account = accountOf(marks, end);
  const stays = [
    ...account.zoneChanges.map(({ at, zone }, i) => ({ from: at, to: account.zoneChanges[i + 1]?.at ?? Math.max(end, at), text: zone ?? '' })),
    ...[...account.proofs, ...(account.provingSince === null ? [] : [{ start: account.provingSince, end }])]
      .map((proof) => ({ from: proof.start, to: proof.end, text: words.proof })),
  ].filter((stay) => stay.text !== '').sort((a, b) => a.from - b.from);
  stays.forEach((stay, i) => items.push({ kind: 'zone', row: 'mark', number: i + 1, ...stay }));
  const others = marks.filter((mark) => MOMENTS.has(mark.kind ?? 'mark'));
  others.forEach((m, i) => items.push({ kind: 'mark', row: 'mark', number: i + 1, from: m.at, to: m.at, text: words.mark(m.kind ?? 'mark', m.text) }));
  return items;
}

/** Marks that are nothing but notes of a moment. */
export function plainMarks(marks: readonly MarkRecord[]): MarkRecord[] {
  return marks.filter((mark) => mark.kind === undefined || mark.kind === 'mark');
}

export interface LaneShape extends LaneItem {
  /** Left edge and width, CSS pixels from the left of the plotting area. */
  readonly x: number;
  readonly width: number;
}

/**
 * Where the items in view are drawn; none is narrower than `leastWidth`. What is widened grows round its own middle, and is moved inwards
 * where an edge of the view would cut it; not a mark, whose middle is its moment.
 */
export function laneShapes(items: readonly LaneItem[], view: { from: number; to: number; widthPx: number }, leastWidth: number): LaneShape[] {
  const scale = view.widthPx / (view.to - view.from);
  const shapes: LaneShape[] = [];
  for (const item of items) {
    if (item.to < view.from || item.from > view.to) continue;
    const own = (item.to - item.from) * scale;
    const width = Math.max(own, leastWidth);
    const left = (item.from - view.from) * scale - (width - own) / 2;
    const stays = own >= leastWidth || item.kind === 'mark';
    shapes.push({ ...item, x: stays ? left : Math.max(0, Math.min(left, view.widthPx - width)), width });
  }
  return shapes;
}
