/** Whether the repair is proved, in a word with a mark of its own and a sentence. */
import type { Proof } from '../../../server/session/proof.ts';
import { VerdictMark } from '../../parts/glyphs.tsx';
import { texts } from '../../texts.ts';

const t = texts.repair;
const MARKS = { proved: 'pass', failed: 'fail', 'not-yet': 'undecided', none: 'none' } as const;

export function Standing({ proof, isAnyBad }: { proof: Proof | null; isAnyBad: boolean }) {
  const state = proof?.state ?? 'none';
  const words = proof !== null ? proof.words : isAnyBad ? t.nothingDone : t.nothingFailed;
  return (
    <section class={`verdict is-${MARKS[state]}`} aria-label={t.standing}>
      <div class="verdict-head">
        <VerdictMark verdict={MARKS[state]} />
        <p class="verdict-word">{proof === null ? t.noRepair : t.states[state]}</p>
      </div>
      <p class="verdict-reason" role="status">{words}</p>
      {proof?.state === 'failed' && <p>{t.anotherOne}</p>}
    </section>
  );
}
