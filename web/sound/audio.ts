/**
 * The one way to the loudspeaker. Silent until the user has allowed sound, because browsers forbid it before a tap or key,
 * and because a workshop has others in it.
 */
import { signal } from '@preact/signals';

export type SoundState = 'off' | 'on' | 'blocked' | 'missing';

export const soundState = signal<SoundState>('off');

let context: AudioContext | null = null;

/** Call from a click or key press. @returns whether sound is on now */
export async function allowSound(): Promise<boolean> {
  if (typeof AudioContext === 'undefined') {
    soundState.value = 'missing';
    return false;
  }
  context ??= makeContext();
  try {
    await context.resume();
  } catch {
    // The state below tells.
  }
  readState();
  return soundState.value === 'on';
}

export async function stopSound(): Promise<void> {
  soundState.value = 'off';
  await context?.suspend();
}

/** What sounds are made with; null while sound is off. */
export function openAudio(): AudioContext | null {
  return soundState.value === 'on' ? context : null;
}

function makeContext(): AudioContext {
  const made = new AudioContext({ latencyHint: 'interactive' });
  // A phone call or a locked screen stops the sound: the button must say so.
  made.onstatechange = () => {
    if (soundState.value !== 'off') readState();
  };
  return made;
}

function readState(): void {
  soundState.value = context?.state === 'running' ? 'on' : 'blocked';
}
