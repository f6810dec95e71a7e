/** What was refused, or did not work, with what to do: until it is dismissed. */
import { notice } from '../state.ts';
import { texts } from '../texts.ts';
import { Alert } from './alert.tsx';

export function Trouble() {
  const said = notice.value;
  if (said?.kind !== 'trouble') return null;
  return (
    <Alert kind="abnormal">
      {said.text} <button type="button" class="quiet" onClick={() => (notice.value = null)}>{texts.trouble.dismiss}</button>
    </Alert>
  );
}
