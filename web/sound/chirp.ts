/**
 * The sound of a dropout: two falling notes, short enough to count by ear. Silent until the user has allowed sound,
 * because browsers forbid it before a tap or key, and because a workshop has others in it.
 */
import { effect, signal } from '@preact/signals';
import { chirpVolume } from '../preferences.ts';
import { dropoutAlert } from '../state.ts';

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

/** One chirp now; nothing while sound is off. */
export function chirp(): void {
  if (context === null || soundState.value !== 'on' || chirpVolume.value === 0) return;
  const start = context.currentTime + 0.005;
  note(context, start, 2300, 1900, 0.07);
  note(context, start + 0.09, 1700, 1200, 0.1);
}

/** Chirps for every dropout from now on. */
export function startChirping(): void {
  let announced = dropoutAlert.peek().count;
  effect(() => {
    const { count } = dropoutAlert.value;
    if (count > announced) chirp();
    announced = count;
  });
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

function note(audio: AudioContext, at: number, from: number, to: number, length: number): void {
  const oscillator = audio.createOscillator();
  const gain = audio.createGain();
  oscillator.type = 'triangle';
  oscillator.frequency.setValueAtTime(from, at);
  oscillator.frequency.exponentialRampToValueAtTime(to, at + length);
  gain.gain.setValueAtTime(0, at);
  gain.gain.linearRampToValueAtTime(chirpVolume.value, at + 0.008);
  gain.gain.setTargetAtTime(0, at + length * 0.6, length * 0.15);
  oscillator.connect(gain).connect(audio.destination);
  oscillator.start(at);
  oscillator.stop(at + length + 0.05);
}
