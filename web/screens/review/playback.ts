/** Plays a recorded take at a chosen speed: a cursor that moves on, the tone and the chirps with it. */
import { useEffect, useRef, useState } from 'preact/hooks';
import { Flag } from '../../../drivers/reading.ts';
import type { TakeSummary } from '../../../server/session/session.ts';
import { judgedQuantity } from '../../check-words.ts';
import { openAudio } from '../../sound/audio.ts';
import { chirp } from '../../sound/chirp.ts';
import { HIGHEST_HZ, pitchOf } from '../../sound/pitch.ts';
import { soundPitch } from '../../sound/tone.ts';
import { firstFrom, type Series } from '../../trace/columns.ts';
import { moveWindow, type Window } from '../../trace/window.ts';

/** Times as fast as it was. */
export const SPEEDS = [0.1, 0.5, 1, 4, 16, 60] as const;

export interface Playback {
  readonly isPlaying: boolean;
  readonly speed: number;
  setSpeed(speed: number): void;
  toggle(): void;
}

interface Stage {
  readonly take: TakeSummary;
  readonly samples: Series;
  readonly view: Window;
  readonly whole: Window;
  readonly cursor: number | null;
  setView(view: Window): void;
  setCursor(at: number): void;
}

/** Longer without a sample than this many intervals, and the tone is silent, as it was then. */
const SILENT_INTERVALS = 3;

export function usePlayback(stage: Stage): Playback {
  const [isPlaying, setPlaying] = useState(false);
  const [speed, setSpeed] = useState(1);
  const now = useRef(stage);
  now.current = stage;

  useEffect(() => {
    if (!isPlaying) return;
    let last = performance.now();
    let at = now.current.cursor ?? now.current.view.from;
    if (at >= now.current.whole.to) at = now.current.whole.from;
    let handle = 0;
    const step = (time: number): void => {
      const { take, view, whole, setView, setCursor } = now.current;
      const before = at;
      at += ((time - last) / 1000) * speed;
      last = time;
      if (take.judgement.dropouts.some((dropout) => dropout.start > before && dropout.start <= at)) chirp();
      setCursor(Math.min(at, whole.to));
      // The cursor stays in the middle third, so that what comes is seen before it is heard.
      const span = view.to - view.from;
      if (at > view.to - span / 3 || at < view.from) setView(moveWindow(view, whole, at - (view.from + span / 3)));
      soundPitch(pitchAt(now.current, at));
      if (at >= whole.to) setPlaying(false);
      else handle = requestAnimationFrame(step);
    };
    handle = requestAnimationFrame(step);
    return () => {
      cancelAnimationFrame(handle);
      soundPitch(null);
    };
  }, [isPlaying, speed]);

  return { isPlaying, speed, setSpeed, toggle: () => setPlaying((playing) => !playing) };
}

function pitchAt({ take, samples }: Stage, at: number): number | null {
  if (openAudio() === null) return null;
  const next = firstFrom(samples.time, samples.length, at);
  const before = next - 1;
  if (before < 0) return null;
  const interval = take.judgement.interval ?? 0.5;
  if (at - samples.time[before]! > SILENT_INTERVALS * interval || (next < samples.length && samples.breakBefore[next] === 1)) return null;
  const flags = samples.flags[before]!;
  if ((flags & Flag.overRange) !== 0) return HIGHEST_HZ;
  return (flags & Flag.blank) !== 0 ? null : pitchOf(judgedQuantity(take.judgement, take.check), samples.value[before]!, take.check.supply);
}
