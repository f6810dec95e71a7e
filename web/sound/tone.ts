/** A tone whose pitch follows the reading, for eyes that are on the harness. Silence means that there is no reading. */
import { effect } from '@preact/signals';
import { Flag } from '../../drivers/reading.ts';
import { toneOn, toneVolume } from '../preferences.ts';
import { isBeyondRange, live, reading, route, staleFor, contact, type LatestReading } from '../state.ts';
import { openAudio, soundState } from './audio.ts';
import { HIGHEST_HZ, pitchOf } from './pitch.ts';

/** Fast enough to hear a dropout of a tenth of a second, slow enough not to click. */
const GLIDE_S = 0.012;

class Tone {
  readonly #audio: AudioContext;
  readonly #oscillator: OscillatorNode;
  readonly #gain: GainNode;

  constructor(audio: AudioContext) {
    this.#audio = audio;
    this.#oscillator = audio.createOscillator();
    this.#gain = audio.createGain();
    this.#gain.gain.value = 0;
    this.#oscillator.connect(this.#gain).connect(audio.destination);
    this.#oscillator.start();
  }

  sound(hertz: number, volume: number): void {
    this.#oscillator.frequency.setTargetAtTime(hertz, this.#audio.currentTime, GLIDE_S);
    this.#gain.gain.setTargetAtTime(volume, this.#audio.currentTime, GLIDE_S);
  }
}

let tone: Tone | null = null;

/** Sounds a pitch, or nothing for null. Used live and in playback alike. */
export function soundPitch(hertz: number | null): void {
  const audio = openAudio();
  if (audio === null) return;
  if (hertz === null) {
    tone?.sound(HIGHEST_HZ, 0);
    return;
  }
  tone ??= new Tone(audio);
  tone.sound(hertz, toneVolume.value * 0.5);
}

export function pitchOfReading(shown: LatestReading): number | null {
  if (isBeyondRange(shown)) return HIGHEST_HZ;
  return (shown.flags & Flag.blank) !== 0 ? null : pitchOf(shown.quantity, shown.value, live.peek()?.system.volts);
}

/** Follows the live reading from now on, while the user wants it and the watch screen is open. */
export function startTone(): void {
  let isSounding = false;
  effect(() => {
    const shown = reading.value;
    const isWanted = toneOn.value && soundState.value === 'on' && route.value.screen !== 'review' && contact.value.state === 'open' && staleFor.value === null;
    const hertz = isWanted && shown !== null ? pitchOfReading(shown) : null;
    if (hertz === null && !isSounding) return;
    isSounding = hertz !== null;
    soundPitch(hertz);
  });
}
