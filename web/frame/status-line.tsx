/**
 * The status line for screen readers: what the screen shows, in a sentence, when it matters and otherwise now and then.
 * Polite, and never more often than every few seconds, because the reading changes all the time.
 */
import { dropoutsIn } from '../../server/diagnosis/judgement.ts';
import { useEffect, useState } from 'preact/hooks';
import { effect } from '@preact/signals';
import { readingText } from '../figures/reading-text.ts';
import { clockText, durationText } from '../figures/time-text.ts';
import { contact, isBeyondRange, live, notice, pulse, reading, serviceClock, shownJudgement, staleFor } from '../state.ts';
import { texts } from '../texts.ts';

/** At least this long between two sentences, s, and at most so long without one while something is going on. */
const LEAST_S = 2.5;
const MOST_S = 15;

export function StatusLine() {
  const [sentence, setSentence] = useState('');
  useEffect(() => {
    let saidAt = -Infinity;
    let saidEvents = '';
    return effect(() => {
      const now = pulse.value;
      const events = eventWords();
      const isDue = now - saidAt >= LEAST_S && (events !== saidEvents || (now - saidAt >= MOST_S && live.peek()?.take !== null));
      if (!isDue) return;
      saidAt = now;
      saidEvents = events;
      setSentence(`${readingWords()} ${events}`.trim());
    });
  }, []);
  return <p class="sr-only" role="status" aria-label={texts.status.label} aria-live="polite">{sentence}</p>;
}

/** Everything whose change is worth a word at once. */
function eventWords(): string {
  const now = live.value;
  if (contact.value.state !== 'open') return texts.status.noContact;
  const judgement = shownJudgement.value;
  const said = notice.value?.kind === 'done' ? notice.value.text : '';
  const isSilent = staleFor.value !== null;
  return [
    isSilent ? texts.contact.link.silent : '',
    now === null || now.take === null ? texts.status.noTake : '',
    judgement === null ? '' : `${texts.status.dropouts(dropoutsIn(judgement))} ${texts.status.verdict(texts.verdict.words[judgement.verdict])}`,
    said,
  ].filter((words) => words !== '').join(' ');
}

function readingWords(): string {
  const shown = reading.peek();
  const take = live.peek()?.take ?? null;
  const clock = serviceClock.read(pulse.peek());
  const stale = staleFor.peek();
  if (stale !== null) return texts.status.stale(durationText(Math.round(stale)));
  const value = shown === null ? '' : texts.status.reading(isBeyondRange(shown) ? texts.reading.beyond : readingText(shown.quantity, shown.value, shown.resolution));
  return take === null || clock === null ? value : `${value} ${texts.status.takeRuns(clockText(clock - take.start))}`;
}
