/**
 * Control by voice, where the browser has speech recognition. Off until its user switches it on, for this page only: many browsers send what
 * the microphone hears to servers of their makers. What the page itself says is not taken for a command.
 */
import { signal } from '@preact/signals';
import { commandIn, type Command } from './commands.ts';

/** denied: the user or the system said no · deaf: no microphone · away: the browser could not reach its recognition */
export type ListeningState = 'off' | 'on' | 'denied' | 'deaf' | 'away';

export const listening = signal<ListeningState>('off');
/** What was understood last, and what it asked for. */
export const heard = signal<{ readonly said: string; readonly command: Command | null } | null>(null);

/** As far as it is used here; the names are those of the Web Speech API (W3C community group draft). */
interface Recognition {
  lang: string;
  continuous: boolean;
  interimResults: boolean;
  onresult: ((event: { readonly resultIndex: number; readonly results: ArrayLike<{ readonly isFinal: boolean; readonly 0: { readonly transcript: string } }> }) => void) | null;
  onerror: ((event: { readonly error: string }) => void) | null;
  onend: (() => void) | null;
  start(): void;
  abort(): void;
}

/** After the page has spoken, its own words may still come back for so long, ms (common practice, no source). */
const ECHO_MS = 600;
/** Browsers stop listening by themselves after a silence: begin again after this, ms; later each time while it fails. */
const FIRST_AGAIN_MS = 250;
const LONGEST_AGAIN_MS = 8_000;

let recognition: Recognition | null = null;
let again = 0;
let againMs = FIRST_AGAIN_MS;
let spokeAt = -Infinity;
let act: (command: Command) => void = () => undefined;

function recognitionClass(): (new () => Recognition) | undefined {
  const { SpeechRecognition, webkitSpeechRecognition } = window as unknown as Record<string, (new () => Recognition) | undefined>;
  return SpeechRecognition ?? webkitSpeechRecognition;
}

export function canListen(): boolean {
  return recognitionClass() !== undefined;
}

/** Hands in what a command does. */
export function useCommands(perform: (command: Command) => void): void {
  act = perform;
}

/** Call from a click or key: the browser asks its user for the microphone. */
export function startListening(): void {
  const Made = recognitionClass();
  if (Made === undefined || recognition !== null) return;
  const made = new Made();
  recognition = made;
  made.lang = document.documentElement.lang;
  made.continuous = true;
  made.interimResults = false;
  made.onresult = ({ resultIndex, results }) => {
    againMs = FIRST_AGAIN_MS;
    listening.value = 'on';
    for (let i = resultIndex; i < results.length; i++) if (results[i]!.isFinal) hear(results[i]![0].transcript.trim());
  };
  made.onerror = ({ error }) => {
    if (error === 'not-allowed' || error === 'service-not-allowed') giveUp('denied');
    else if (error === 'audio-capture') giveUp('deaf');
    else if (error === 'network') listening.value = 'away';
  };
  made.onend = () => {
    if (recognition !== made) return;
    again = window.setTimeout(() => begin(made), againMs);
    againMs = Math.min(2 * againMs, LONGEST_AGAIN_MS);
  };
  listening.value = 'on';
  heard.value = null;
  begin(made);
}

export function stopListening(): void {
  giveUp('off');
}

function begin(made: Recognition): void {
  try {
    made.start();
  } catch {
    // It had begun again by itself: all is well.
  }
}

function giveUp(state: ListeningState): void {
  const given = recognition;
  recognition = null;
  clearTimeout(again);
  listening.value = state;
  given?.abort();
}

function hear(said: string): void {
  if (typeof speechSynthesis !== 'undefined' && speechSynthesis.speaking) spokeAt = performance.now();
  if (said === '' || performance.now() - spokeAt < ECHO_MS) return;
  const command = commandIn(said);
  heard.value = { said, command };
  if (command !== null) act(command);
}

/** The page speaks now: what is heard meanwhile is its own voice. */
export function noteSpeaking(): void {
  spokeAt = performance.now();
}
