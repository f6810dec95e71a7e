/** A locked screen: nothing reacts but one button that has to be held, so that a sleeve or a pothole stops nothing. Marks still work. */
import { useRef, useState } from 'preact/hooks';
import { texts } from '../../texts.ts';

/** How long the button is held, ms. */
const HOLD_MS = 1200;

export function UnlockButton({ onUnlock }: { onUnlock: () => void }) {
  const timer = useRef(0);
  const [isHeld, setHeld] = useState(false);
  const press = (): void => {
    if (timer.current !== 0) return;
    setHeld(true);
    timer.current = window.setTimeout(() => {
      timer.current = 0;
      onUnlock();
    }, HOLD_MS);
  };
  const release = (): void => {
    clearTimeout(timer.current);
    timer.current = 0;
    setHeld(false);
  };
  const isKey = (event: KeyboardEvent): boolean => event.key === 'Enter' || event.key === ' ';
  return (
    <button type="button" class={`unlock${isHeld ? ' is-held' : ''}`} onPointerDown={press} onPointerUp={release} onPointerLeave={release} onPointerCancel={release}
      onKeyDown={(event) => isKey(event) && press()} onKeyUp={(event) => isKey(event) && release()} onBlur={release}>
      {isHeld ? texts.road.unlocking : texts.road.unlock}
    </button>
  );
}
