/** What the watch screen says before the service has been heard for the first time. */
import { contact } from '../../state.ts';
import { texts } from '../../texts.ts';

export function Waiting() {
  return (
    <div class="waiting">
      <h1>{texts.contact.service}: {contact.value.state === 'connecting' ? texts.contact.connecting : texts.contact.lostNever}</h1>
    </div>
  );
}
