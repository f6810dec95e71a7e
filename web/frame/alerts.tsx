/** What can't wait, above every screen: contact lost, meter in trouble, nothing saved, a request refused. Each says what to do. */
import { durationText } from '../figures/time-text.ts';
import { Alert } from '../parts/alert.tsx';
import { SessionOffer } from '../parts/go-on.tsx';
import { mayControl } from '../screens/sharing/index.ts';
import { Trouble } from '../parts/trouble.tsx';
import { contact, live, meter, pulse } from '../state.ts';
import { texts } from '../texts.ts';

export function Alerts() {
  const { state, heardAt } = contact.value;
  const lostFor = state === 'lost' ? Math.max(0, pulse.value - (heardAt ?? 0)) : 0;
  const recording = live.value?.recording;
  const link = meter.value?.link;
  return (
    <section class="alerts" aria-label={texts.alerts}>
      {!mayControl.value && <p class="watch-only">{texts.sharing.watchOnlyLong}</p>}
      {state === 'lost' && <Alert kind="faulty">{heardAt === null ? texts.contact.lostNever : texts.contact.lostLong(durationText(Math.round(lostFor)))}</Alert>}
      {state === 'open' && recording?.state === 'not-saving' && <Alert kind="faulty">{recording.message || texts.recording.notSaving}</Alert>}
      {state === 'open' && recording?.state !== 'not-saving' && recording?.spaceWarning && <Alert kind="abnormal">{recording.spaceWarning}</Alert>}
      {state === 'open' && link !== undefined && link.message !== '' && <Alert kind="abnormal">{link.message}</Alert>}
      {state === 'open' && <SessionOffer />}
      <div role="alert"><Trouble /></div>
    </section>
  );
}
