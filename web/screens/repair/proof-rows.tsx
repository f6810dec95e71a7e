/** What must be repeated, and before against after of each check. */
import { dropoutsIn } from '../../../server/diagnosis/judgement.ts';
import { useEffect, useState } from 'preact/hooks';
import type { Proof, ProofRow } from '../../../server/session/proof.ts';
import { comparisonWords } from '../../../server/session/report.ts';
import type { Check, TakeSummary } from '../../../server/session/session.ts';
import type { Watching } from '../../../server/diagnosis/judgement.ts';
import { choose } from '../../actions.ts';
import { checkName, checkSentence, judgedQuantity } from '../../check-words.ts';
import { readingText } from '../../figures/reading-text.ts';
import { durationText } from '../../figures/time-text.ts';
import { VerdictMark } from '../../parts/glyphs.tsx';
import { routeHash } from '../../routes.ts';
import { texts } from '../../texts.ts';
import { traceLine } from '../../trace/columns.ts';
import { laneItems } from '../../trace/lane.ts';
import { joined, type Range } from '../../trace/scale.ts';
import { titleOf, watchedTime } from '../review/comparison.tsx';
import { TakeTrace } from '../review/take-trace.tsx';
import { useTrace } from '../review/trace-loader.ts';
import { provoked } from './provoked.ts';
import { ChecksAside, SetAside } from './set-aside.tsx';

const t = texts.repair;
const MARKS = { proved: 'pass', failed: 'fail', 'not-yet': 'undecided' } as const;

interface Props {
  readonly session: string;
  readonly proof: Proof | null;
  readonly mayRepeat: boolean;
}

export function ProofRows({ session, proof, mayRepeat }: Props) {
  if (proof === null || proof.rows.length + proof.fresh.length + proof.aside.length === 0) return null;
  return (
    <section aria-label={t.toRepeat} class="proof-rows">
      <h2>{t.toRepeat}</h2>
      {proof.rows.map((row) => <Row key={`${row.check.id} ${row.watching}`} session={session} row={row} mayRepeat={mayRepeat} />)}
      {proof.fresh.map((take) => (
        <article class="panel proof-row" key={take.id}>
          <header><VerdictMark verdict="fail" /><h3>{checkName(take.check)}</h3><span class="tag">{t.fresh}</span></header>
          {mayRepeat && <SetAside check={take.check} />}
          <Pair session={session} takes={[take]} />
        </article>
      ))}
      <ChecksAside aside={proof.aside} mayWrite={mayRepeat} />
    </section>
  );
}

function Row({ session, row, mayRepeat }: { session: string; row: ProofRow; mayRepeat: boolean }) {
  const { check, watching, before, after, state, missing } = row;
  return (
    <article class="panel proof-row">
      <header>
        <VerdictMark verdict={MARKS[state]} />
        <h3>{checkName(check)} · {texts.watching.names[watching]}</h3>
        <b class="proof-state">{t.rowStates[state]}</b>
      </header>
      <p>{checkSentence(check)}</p>
      {missing.length > 0 && <ul class="missing">{missing.map((sentence) => <li key={sentence}>{sentence}</li>)}</ul>}
      {provoked(before) !== '' && state !== 'proved' && <p>{t.provokeAgain(provoked(before))}</p>}
      {comparisonWords(row.comparison).map((sentence) => <p key={sentence} class="statistics">{sentence}.</p>)}
      {mayRepeat && <button type="button" class={state === 'not-yet' ? 'strong' : ''} onClick={() => void repeat(check, watching)}>{after === null ? t.repeat : t.repeatAgain}</button>}
      {mayRepeat && state !== 'proved' && <SetAside check={check} />}
      <BeforeAfter session={session} before={before} after={after} />
      <Pair session={session} takes={after === null ? [before] : [before, after]} />
    </article>
  );
}

/** To the check, in the same way of watching; cautions and refusals apply there as always. */
async function repeat(check: Check, watching: Watching): Promise<void> {
  if (await choose(check, watching)) location.hash = routeHash({ screen: watching === 'road' ? 'road' : 'watch' });
}

function BeforeAfter({ session, before, after }: { session: string; before: TakeSummary; after: TakeSummary | null }) {
  const c = texts.comparison;
  const cells = (take: TakeSummary): readonly string[] => [
    texts.verdict.words[take.verdict], readingText(judgedQuantity(take.judgement, take.check), take.judgement.level, take.judgement.resolution),
    String(dropoutsIn(take.judgement)), durationText(watchedTime(take.judgement)), String(take.account?.flexes ?? 0), provoked(take) || '–', take.account?.condition || '–',
  ];
  return (
    <div class="before-after" tabIndex={0} role="region" aria-label={t.beforeAfter(`${checkName(before.check)}, ${texts.watching.names[before.watching]}`)}>
      <table>
        <caption class="sr-only">{c.title}</caption>
        <thead><tr>{[c.take, texts.verdict.label, texts.verdict.level, texts.verdict.dropouts, c.watched, texts.take.flexes, texts.wiggle.provocation, texts.check.condition].map((name) => <th key={name} scope="col">{name}</th>)}</tr></thead>
        <tbody>
          {[before, after].map((take, order) => (
            <tr key={order}>
              <th scope="row">{order === 0 ? c.before : c.after}: {take === null ? t.notYet : <a href={routeHash({ screen: 'review', session, take: take.id })}>{texts.take.number(take.id)}</a>}</th>
              {take === null ? <td colSpan={7} /> : cells(take).map((cell, order) => <td key={order}>{cell}</td>)}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

/** On one scale of values, so that what is seen of the one can be held against the other. */
function Pair({ session, takes }: { session: string; takes: readonly TakeSummary[] }) {
  const [extents, setExtents] = useState<Readonly<Record<number, Range>>>({});
  const within = takes.reduce<Range | null>((all, { id }) => joined(all, extents[id] ?? null), null);
  return (
    <div class="pair">
      {takes.map((take) => (
        <TakeFigure key={take.id} session={session} take={take} within={within}
          onExtent={(extent) => setExtents((before) => (before[take.id]?.low === extent.low && before[take.id]?.high === extent.high ? before : { ...before, [take.id]: extent }))} />
      ))}
    </div>
  );
}

function TakeFigure({ session, take, within, onExtent }: { session: string; take: TakeSummary; within: Range | null; onExtent: (extent: Range) => void }) {
  const view = { from: take.start, to: take.end ?? take.start + take.judgement.elapsed };
  const trace = useTrace(session, take.id, take.meter, take.judgement.interval, view);
  const { extent } = traceLine(trace.samples, { ...view, columns: 200 });
  useEffect(() => {
    if (extent !== null) onExtent(extent);
  }, [extent?.low, extent?.high]);
  return (
    <div class="pair-trace">
      <TakeTrace take={take} trace={trace} view={view} items={laneItems(take.judgement, [], view.to, texts.lane)} spotlight={null} cursor={null} within={within} title={titleOf(take)} />
    </div>
  );
}
