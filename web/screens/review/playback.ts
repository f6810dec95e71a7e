/** Plays a recorded take at a chosen speed: a cursor that moves on, the tone and the chirps with it. */
import { useEffect, useRef, useState } from 'preact/hooks';
import type { TakeSummary } from '../../../server/session/session.ts';
import { openAudio } from '../../sound/audio.ts';
import { chirp } from '../../sound/chirp.ts';
import { playedPitch } from '../../sound/played-pitch.ts';
import { soundPitch } from '../../sound/tone.ts';
import type { Series } from '../../trace/columns.ts';
import { moveWindow, type Window } from '../../trace/window.ts';

/** Times as fast as it was. */
export const SPEEDS = [0.1, 0.5, 1, 4, 16, 60] as const;

export interface Playback {
  readonly isPlaying: boolean;
  readonly speed: number;
  setSpeed(speed: number): void;
  toggle(): void;
  /** Goes on from there, when it plays. @param at  session clock, s */
  seek(at: number): void;
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

export function usePlayback(stage: Stage): Playback {
  const [isPlaying, setPlaying] = useState(false);
  const [speed, setSpeed] = useState(1);
  const now = useRef(stage);
  now.current = stage;
  const sought = useRef<number | null>(null);

  useEffect(() => {
    if (!isPlaying) return;
    let last = performance.now();
    let at = now.current.cursor ?? now.current.view.from;
    if (at >= now.current.whole.to) at = now.current.whole.from;
    sought.current = null;
    let handle = 0;
    const step = (time: number): void => {
      const { take, view, whole, setView, setCursor } = now.current;
      at = sought.current ?? at;
      sought.current = null;
      const before = at;
      at += ((time - last) / 1000) * speed;
      last = time;
      if (take.judgement.dropouts.some((dropout) => dropout.start > before && dropout.start <= at)) chirp();
      setCursor(Math.min(at, whole.to));
      // The cursor stays in the middle third, so that what comes is seen before it is heard.
      const span = view.to - view.from;
      if (at > view.to - span / 3 || at < view.from) setView(moveWindow(view, whole, at - (view.from + span / 3)));
      soundPitch(openAudio() === null ? null : playedPitch(take, now.current.samples, at));
      if (at >= whole.to) setPlaying(false);
      else handle = requestAnimationFrame(step);
    };
    handle = requestAnimationFrame(step);
    return () => {
      cancelAnimationFrame(handle);
      soundPitch(null);
    };
  }, [isPlaying, speed]);

  return { isPlaying, speed, setSpeed, toggle: () => setPlaying((playing) => !playing), seek: (at) => { sought.current = at; } };
}
