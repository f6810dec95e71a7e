/** The way back into a recorded session: offered after a restart, and with each recording. */
import { useState } from 'preact/hooks';
import { goOnWith, request } from '../actions.ts';
import { live } from '../state.ts';
import { texts } from '../texts.ts';
import { Control } from './control.tsx';
import { dateText } from './date-text.ts';

const t = texts.goingOn;

/** The session that was at hand when the service last ran. */
export function SessionOffer() {
  const offer = live.value?.offer ?? null;
  if (offer === null || live.value?.take !== null) return null;
  const { session, info, takes } = offer;
  return (
    <section class="offer" aria-label={t.goOn}>
      <p>{t.offer(info.title || info.vehicle || texts.review.untitled, dateText(info.startedAtUs), takes)}</p>
      <Control>
        <div class="row">
          <GoOnButton session={session} />
          <button type="button" onClick={() => void request({ type: 'go-on', session: null })}>{t.leave}</button>
        </div>
      </Control>
    </section>
  );
}

/** With a recording; the reason why it can't be gone on with comes when it is tried. */
export function GoOn({ session }: { session: string }) {
  if (live.value?.recording.file === session) return <p class="hint">{t.isAtHand}</p>;
  return (
    <Control>
      <GoOnButton session={session} />
      <p class="hint">{t.why}</p>
    </Control>
  );
}

function GoOnButton({ session }: { session: string }) {
  const [isOpening, setOpening] = useState(false);
  const open = async (): Promise<void> => {
    setOpening(true);
    await goOnWith(session);
    setOpening(false);
  };
  return <button type="button" class="strong" disabled={isOpening || live.value?.take !== null} onClick={() => void open()}>{t.goOn}</button>;
}
