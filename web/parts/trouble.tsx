/** What was refused, or did not work, with what to do: until it is dismissed. */
import { notice } from '../state.ts';
import { texts } from '../texts.ts';
import { Icon } from './glyphs.tsx';

export function Trouble() {
  const said = notice.value;
  if (said?.kind !== 'trouble') return null;
  return (
    <div class="alert is-abnormal">
      <Icon name="caution" />
      <div>{said.text} <button type="button" class="quiet" onClick={() => (notice.value = null)}>{texts.trouble.dismiss}</button></div>
    </div>
  );
}
