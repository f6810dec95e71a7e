/** The screen under which the work is done. */
import { judgedQuantity } from '../../check-words.ts';
import { VerdictPanel } from '../../parts/verdict-panel.tsx';
import { DropoutList } from '../../parts/dropout-list.tsx';
import { judged, live, shownJudgement } from '../../state.ts';
import { texts } from '../../texts.ts';
import { CheckChoice, CheckSentence, Preparation } from './check-strip.tsx';
import { Controls } from './controls.tsx';
import { Leads } from './leads.tsx';
import { LiveTrace } from './live-trace.tsx';
import { SimulationStrip } from './simulation.tsx';
import { Waiting } from './waiting.tsx';

export function WatchScreen() {
  if (live.value === null) return <Waiting />;
  return (
    <div class={`watch ${live.value.take === null ? 'is-waiting' : 'is-running'}`}>
      <div class="watch-main">
        <CheckSentence />
        <CheckChoice />
        <Leads />
        <LiveTrace />
        <SimulationStrip />
      </div>
      <div class="watch-side">
        <Verdict />
        <Preparation />
        <Controls />
      </div>
    </div>
  );
}

function Verdict() {
  const now = live.value!;
  const judgement = shownJudgement.value;
  const ended = now.take === null ? (now.ended.find((e) => e.take.id === judged.value?.take)?.take ?? null) : null;
  const take = now.take ?? ended;
  const stage = now.take !== null ? texts.verdict.soFar : ended === null ? '' : texts.verdict.final(ended.id);
  return (
    <>
      <VerdictPanel judgement={judgement} check={take?.check ?? now.check} stage={stage} />
      {judgement !== null && take !== null && judgement.dropouts.length > 0 && (
        <section class="recent" aria-label={texts.dropouts.title} tabIndex={0}>
          <DropoutList judgement={judgement} quantity={judgedQuantity(judgement, take.check)} origin={take.start} emptyText={texts.dropouts.none} newestFirst />
        </section>
      )}
    </>
  );
}
