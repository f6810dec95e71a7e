/** The screen under which the work is done. */
import type { TakeRecord } from '../../../server/session/session.ts';
import { judgedQuantity } from '../../check-words.ts';
import { VerdictPanel } from '../../parts/verdict-panel.tsx';
import { SearchLine } from '../../parts/search-line.tsx';
import { DropoutList } from '../../parts/dropout-list.tsx';
import { judged, live, shownJudgement } from '../../state.ts';
import { texts } from '../../texts.ts';
import { ProofStrip } from '../repair/proof-strip.tsx';
import { Control } from '../../parts/control.tsx';
import { mayControl } from '../sharing/index.ts';
import { BatteryPanel } from './battery-panel.tsx';
import { Beside } from './beside.tsx';
import { CheckChoice, CheckSentence, Preparation } from './check-strip.tsx';
import { Controls } from './controls.tsx';
import { Leads } from './leads.tsx';
import { Readiness } from './readiness.tsx';
import { LiveTrace } from './live-trace.tsx';
import { NextReason } from './next-reason.tsx';
import { SimulationStrip } from './simulation.tsx';
import { Waiting } from './waiting.tsx';

export function WatchScreen() {
  if (live.value === null) return <Waiting />;
  return (
    <div class={`watch ${live.value.take === null ? 'is-waiting' : 'is-running'}`}>
      <div class="watch-main">
        <CheckSentence />
        <Control>
          <ProofStrip />
          <CheckChoice />
        </Control>
        <Leads />
        <Control><Beside /></Control>
        <LiveTrace />
        {mayControl.value && <SimulationStrip />}
      </div>
      <div class="watch-side">
        <div class="watch-papers">
          {mayControl.value && <Readiness />}
          <NextReason />
          <Control><SearchLine /></Control>
          <Verdict />
          <Control><Preparation /></Control>
          <Control><BatteryPanel /></Control>
          <RecentDropouts />
        </div>
        <Control><Controls /></Control>
      </div>
    </div>
  );
}

/** The running take, or the one that ended last, with what is known of it. */
function judgedTake() {
  const now = live.value!;
  const take = now.take ?? now.ended.find((e) => e.take.id === judged.value?.take)?.take ?? null;
  return { take, judgement: shownJudgement.value, isRunning: now.take !== null };
}

/** Why a take ended by itself; empty for one that the operator ended. */
function endedItself(ending: TakeRecord['ending']): string {
  return ending === 'claim-met' || ending === 'zone-found' ? texts.review.endings[ending] : '';
}

function Verdict() {
  const { take, judgement, isRunning } = judgedTake();
  const stage = isRunning ? texts.verdict.soFar : take === null ? '' : texts.verdict.final(take.id, endedItself(take.ending));
  return <VerdictPanel judgement={judgement} check={take?.check ?? live.value!.check} watching={take?.watching ?? live.value!.watching} stage={stage} origin={take?.start ?? 0} />;
}

function RecentDropouts() {
  const { take, judgement } = judgedTake();
  if (judgement === null || take === null || judgement.dropouts.length === 0) return null;
  return (
    <section class="recent" aria-label={texts.dropouts.title} tabIndex={0}>
      <DropoutList judgement={judgement} quantity={judgedQuantity(judgement, take.check)} origin={take.start} emptyText={texts.dropouts.none} newestFirst />
    </section>
  );
}
