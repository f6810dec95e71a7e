/** Two takes, of one session or of two, the earlier as "before", the later as "after", on one time axis. */
import { dropoutsIn } from '../../../server/diagnosis/judgement.ts';
import { compareBeforeAfter, SIGNIFICANT } from '../../../server/diagnosis/claims.ts';
import type { Judgement } from '../../../server/diagnosis/judgement.ts';
import type { TakeSummary } from '../../../server/session/session.ts';
import { percent } from '../../../server/session/proof.ts';
import { checkName, judgedQuantity } from '../../check-words.ts';
import { readingText } from '../../figures/reading-text.ts';
import { durationText } from '../../figures/time-text.ts';
import { texts } from '../../texts.ts';
import { laneItems } from '../../trace/lane.ts';
import type { Window } from '../../trace/window.ts';
import type { Compared } from './compare-choice.tsx';
import { TakeTrace } from './take-trace.tsx';
import { useTrace } from './trace-loader.ts';

interface Props {
  readonly take: TakeSummary;
  readonly compared: Compared;
  /** Of `take`; the other is shown over the same time since its own start. */
  readonly view: Window;
}

export function Comparison({ take, compared: { session, take: other, marks, title, isBefore }, view }: Props) {
  const shift = other.start - take.start;
  const otherView = { from: view.from + shift, to: view.to + shift };
  const trace = useTrace(session, other.id, other.meter, other.judgement.interval, otherView);
  const [before, after] = isBefore ? [other, take] : [take, other];
  return (
    <>
      <TakeTrace take={other} trace={trace} view={otherView} items={laneItems(other.judgement, marks, other.end ?? other.start + other.judgement.elapsed, texts.lane)} spotlight={null} cursor={null} title={title} />
      <BeforeAfter before={before} after={after} />
    </>
  );
}

export function titleOf(take: TakeSummary): string {
  return `${texts.take.number(take.id)} · ${checkName(take.check)} · ${texts.verdict.words[take.verdict]}`;
}

/** Time that was watched, s: the take without its gaps. */
export function watchedTime(judgement: Judgement): number {
  return Math.max(0, judgement.elapsed - judgement.gaps.reduce((sum, gap) => sum + gap.end - gap.start, 0));
}

function BeforeAfter({ before, after }: { before: TakeSummary; after: TakeSummary }) {
  const t = texts.comparison;
  const row = (take: TakeSummary) => {
    const quantity = judgedQuantity(take.judgement, take.check);
    return [
      texts.verdict.words[take.verdict], readingText(quantity, take.judgement.level, take.judgement.resolution),
      String(dropoutsIn(take.judgement)), durationText(watchedTime(take.judgement)),
    ];
  };
  const sentence = compared(before.judgement, after.judgement);
  return (
    <div class="before-after">
      <table>
        <caption class="sr-only">{t.title}</caption>
        <thead><tr><th scope="col">{t.take}</th><th scope="col">{texts.verdict.label}</th><th scope="col">{texts.verdict.level}</th><th scope="col">{texts.verdict.dropouts}</th><th scope="col">{t.watched}</th></tr></thead>
        <tbody>
          {[before, after].map((take, i) => (
            <tr key={i}><th scope="row">{i === 0 ? t.before : t.after}: {texts.take.number(take.id)}</th>{row(take).map((cell, k) => <td key={k}>{cell}</td>)}</tr>
          ))}
        </tbody>
      </table>
      <p>{sentence}</p>
    </div>
  );
}

/** What the two counts prove; says so when they prove nothing. */
function compared(before: Judgement, after: Judgement): string {
  const exposures = [watchedTime(before), watchedTime(after)] as const;
  if (exposures[0] <= 0 || exposures[1] <= 0) return texts.comparison.nothing;
  const { p, needed } = compareBeforeAfter(
    { dropouts: dropoutsIn(before), exposure: exposures[0] }, { dropouts: dropoutsIn(after), exposure: exposures[1] });
  if (before.dropouts.length === 0) return texts.comparison.noneBefore;
  const chance = p < 0.001 ? '0.1 %' : percent(p);
  if (p <= SIGNIFICANT) return texts.comparison.better(p < 0.001, chance);
  return texts.comparison.notYet(chance, needed === null || needed <= 0 ? '' : durationText(needed));
}
