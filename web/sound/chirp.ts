/** The sound of a dropout: two falling notes, short enough to count by ear. */
import { effect } from '@preact/signals';
import { chirpVolume } from '../preferences.ts';
import { dropoutAlert } from '../state.ts';
import { openAudio } from './audio.ts';

/** One chirp now; nothing while sound is off. */
export function chirp(): void {
  const audio = openAudio();
  if (audio === null || chirpVolume.value === 0) return;
  const start = audio.currentTime + 0.005;
  note(audio, start, 2300, 1900, 0.07);
  note(audio, start + 0.09, 1700, 1200, 0.1);
}

/** Chirps for every dropout from now on. */
export function startChirping(): void {
  let announced = dropoutAlert.peek().count;
  effect(() => {
    const { count } = dropoutAlert.value;
    // A frame that brings several is heard as one after the other.
    if (count > announced) chirp();
    for (let i = 1; i < Math.min(count - announced, MOST_AT_ONCE); i++) setTimeout(chirp, i * CHIRP_MS);
    announced = count;
  });
}

const CHIRP_MS = 230;
const MOST_AT_ONCE = 5;

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
