/** What the marks of a road take say about its dropouts: one sentence for each kind of mark. */
import { useMemo } from 'preact/hooks';
import { associateMarks } from '../../../server/diagnosis/road.ts';
import { sayMarkAssociation } from '../../../server/diagnosis/road-words.ts';
import type { MarkRecord, TakeSummary } from '../../../server/session/session.ts';

interface Props {
  readonly take: TakeSummary;
  /** Marks of the session. */
  readonly marks: readonly MarkRecord[];
  /** Session clock, s. */
  readonly end: number;
}

export function MarkFindings({ take, marks, end }: Props) {
  const sentences = useMemo(() => {
    const plain = marks.filter((mark) => mark.take === take.id && (mark.kind ?? 'mark') === 'mark');
    const dropouts = take.judgement.dropouts.map((dropout) => dropout.start);
    if (take.watching !== 'road' || plain.length === 0 || dropouts.length === 0 || end <= take.start) return [];
    return associateMarks(dropouts, plain, { start: take.start, end }).map(sayMarkAssociation);
  }, [take, marks, end]);
  if (sentences.length === 0) return null;
  return <ul class="mark-findings">{sentences.map((sentence) => <li key={sentence}>{sentence}</li>)}</ul>;
}
