/**
 * Control by single keys, so that a foot switch or a presenter, which are keyboards to the computer, works too. Any key can
 * be put in the place of another, and all can be turned off (WCAG 2.2, 2.1.4).
 */
import { flexZone } from './actions.ts';
import { perform } from './perform.ts';
import { ACTIONS, keyMap, keysOn, type Action, type KeyMap } from './preferences.ts';
import { isTouchLocked, live, route } from './state.ts';

/** @returns the action of a key, null when it has none. Letters count the same in either case. */
export function actionFor(key: string, keys: KeyMap): Action | null {
  const wanted = key.toLowerCase();
  return ACTIONS.find((action) => keys[action] === wanted) ?? null;
}

export function startKeys(): void {
  startLettingGo();
  addEventListener('keydown', (event) => {
    if (!keysOn.value || event.repeat || event.ctrlKey || event.altKey || event.metaKey || event.defaultPrevented) return;
    if ((route.value.screen !== 'watch' && route.value.screen !== 'road') || isTakenByElement(event)) return;
    const action = actionFor(event.key, keyMap.value);
    if (action === null && /^[0-9]$/.test(event.key) && live.value?.take?.watching === 'wiggle') {
      // 0 is hands off.
      const zone = event.key === '0' ? null : live.value.wiggle.zones[Number(event.key) - 1];
      if (zone !== undefined) flexZone(zone);
      return;
    }
    if (action === null || (isTouchLocked.value && action !== 'mark')) return;
    // Going from check to check belongs to the watch screen.
    if ((action === 'accept' || action === 'skip') && route.value.screen !== 'watch') return;
    event.preventDefault();
    perform(action);
  });
}

/** A button that was touched keeps the focus: a pedal that sends space or Enter would press it again instead of doing what the pedal is for. */
function startLettingGo(): void {
  addEventListener('click', (event) => {
    const isTouched = event.detail > 0;
    const isPedal = ACTIONS.some((action) => keyMap.value[action] === ' ' || keyMap.value[action] === 'enter');
    const focused = document.activeElement;
    if (isTouched && isPedal && keysOn.value && focused instanceof HTMLButtonElement && focused.closest('dialog') === null) focused.blur();
  });
}

/** Where a key already means something: a text being typed, an open dialog, a button that is pressed with it. */
function isTakenByElement(event: KeyboardEvent): boolean {
  const target = event.target instanceof Element ? event.target : null;
  if (target === null) return false;
  if (target.closest('dialog, select, textarea, [contenteditable], input:not([type=radio]):not([type=checkbox])') !== null) return true;
  return (event.key === ' ' || event.key === 'Enter') && target.closest('button, a, input, summary') !== null;
}
