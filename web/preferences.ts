/** What this browser remembers for its user: nothing that belongs to a session. */
import { effect, signal, type Signal } from '@preact/signals';

export const ACTIONS = ['take', 'accept', 'repeat', 'skip', 'mark', 'flex', 'sound'] as const;
export type Action = (typeof ACTIONS)[number];

export type Theme = 'system' | 'light' | 'dark';

/** `KeyboardEvent.code`-independent: the character or the name of the key, as in `KeyboardEvent.key`, in lower case. */
export type KeyMap = Readonly<Record<Action, string>>;

export const DEFAULT_KEYS: KeyMap = { take: 't', accept: 'a', repeat: 'r', skip: 'n', mark: 'm', flex: 'f', sound: 's' };

function remembered<T>(name: string, fallback: T, isValid: (value: unknown) => value is T): Signal<T> {
  const key = `loomtrace.${name}`;
  let start = fallback;
  try {
    const stored: unknown = JSON.parse(localStorage.getItem(key) ?? 'null');
    if (isValid(stored)) start = stored;
  } catch {
    // A browser that keeps nothing, or kept nonsense: the default serves.
  }
  const value = signal(start);
  effect(() => {
    try {
      localStorage.setItem(key, JSON.stringify(value.value));
    } catch {
      // Private mode or a full store: it holds until the page is closed.
    }
  });
  return value;
}

const isBoolean = (value: unknown): value is boolean => typeof value === 'boolean';
const isShare = (value: unknown): value is number => typeof value === 'number' && value >= 0 && value <= 1;
const isSpan = (value: unknown): value is number => typeof value === 'number' && WINDOWS.includes(value);
const isTheme = (value: unknown): value is Theme => value === 'system' || value === 'light' || value === 'dark';
const isKeyMap = (value: unknown): value is KeyMap =>
  typeof value === 'object' && value !== null && ACTIONS.every((action) => typeof (value as Record<string, unknown>)[action] === 'string');

/** Lengths of the live trace, s. */
export const WINDOWS: readonly number[] = [10, 30, 60, 120];

export const chirpVolume = remembered('chirpVolume', 0.7, isShare);
/** A tone whose pitch follows the reading. */
export const toneOn = remembered('toneOn', false, isBoolean);
export const toneVolume = remembered('toneVolume', 0.3, isShare);
/** Checks, settled readings and verdicts are spoken. */
export const voiceOn = remembered('voiceOn', false, isBoolean);
export const voiceVolume = remembered('voiceVolume', 1, isShare);
export const theme = remembered('theme', 'system' as Theme, isTheme);
/** Wiggle takes end by themselves when their claim is met or the zone of the source is found. */
export const endsItself = remembered('endsItself', true, isBoolean);
export const keysOn = remembered('keysOn', true, isBoolean);
export const keyMap = remembered('keyMap', DEFAULT_KEYS, isKeyMap);
export const traceWindow = remembered('traceWindow', 30, isSpan);
