/**
 * The guided flow: touch, hear the reading captured and judged, accept it, and the next check is asked for. One key, foot switch or word
 * does each step, so that eyes and hands stay on the harness. Nothing is accepted while the leads are still being placed.
 */
import { choose, goToNextCheck, request, startOrStopTake } from './actions.ts';
import { voiceOn } from './preferences.ts';
import { repeatCheck, say } from './sound/voice.ts';
import { captured, live, nextStep, notice, passedOver, shownJudgement } from './state.ts';
import { texts } from './texts.ts';

/** The one key for everything: begins a take, and takes its result and goes on once there is one. */
export function accept(): void {
  const now = live.value;
  if (now === null || now.take === null) return startOrStopTake();
  const why = whyNotYet();
  if (why !== '') tell(why);
  else {
    const next = nextStep.value;
    passedOver.value = [];
    if (next?.kind === 'check') void choose(next.check, next.watching);
    else startOrStopTake();
  }
}

/** Measures the same check again in a take of its own, and says it. */
export function repeat(): void {
  const now = live.value;
  if (now !== null && now.take?.watching === 'spot') void choose(now.check, now.watching);
  repeatCheck();
}

/** To the next check without a result; the record says that this one was passed over. */
export async function skip(): Promise<void> {
  const skipped = live.value?.check.id;
  if (skipped !== undefined && captured.value === null) passedOver.value = [...passedOver.value, skipped];
  if (live.value !== null && live.value.take !== null && !(await request({ type: 'mark', text: texts.guided.skipped }))) return;
  goToNextCheck();
}

/** Empty when the running take has a result to accept. */
function whyNotYet(): string {
  if (live.value?.take?.watching === 'spot') return captured.value === null ? texts.guided.holdStill : '';
  const judgement = shownJudgement.value;
  return judgement === null || judgement.verdict === 'undecided' ? texts.guided.undecided(judgement?.reasons[0] ?? '') : '';
}

function tell(why: string): void {
  notice.value = { kind: 'trouble', text: why };
  if (voiceOn.value) say(why);
}
