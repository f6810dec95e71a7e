/** The key that does the same as a button; nothing while single keys are off. For the eye only: the button has its own name. */
import { keyMap, keysOn, type Action } from '../preferences.ts';

export function KeyCap({ action }: { action: Action }) {
  return keysOn.value ? <kbd aria-hidden="true">{keyName(keyMap.value[action])}</kbd> : null;
}

export function keyName(key: string): string {
  return key === ' ' ? '␣' : key.length === 1 ? key.toUpperCase() : key;
}
