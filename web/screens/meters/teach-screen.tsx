/** Teaching a meter that nobody knows: what it sends, as it comes, and what the user says of it. */
import { useEffect, useRef, useState } from 'preact/hooks';
import type { Capture, LiveMeter } from '../../../server/live/protocol.ts';
import { ask, RequestFailed } from '../../live/index.ts';
import { texts } from '../../texts.ts';
import { TeachFrames } from './teach-frames.tsx';
import { TeachLines } from './teach-lines.tsx';
import { findOut, teaching } from './teaching.ts';

const LOOK_EVERY_MS = 400;

export function TeachScreen({ meter }: { meter: LiveMeter }) {
  const t = texts.teach;
  const [capture, setCapture] = useState<Capture | null>(null);
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => heading.current?.focus(), []);
  useEffect(() => {
    let isOver = false;
    const look = async (): Promise<void> => {
      try {
        const now = (await ask({ type: 'read-capture', meter: meter.index })) as Capture;
        if (!isOver) setCapture(now);
      } catch (error) {
        // Contact that is lost is told by the frame of the page.
        if (!(error instanceof RequestFailed)) throw error;
      }
      if (!isOver) timer = window.setTimeout(() => void look(), LOOK_EVERY_MS);
    };
    let timer = 0;
    void look();
    return () => {
      isOver = true;
      clearTimeout(timer);
    };
  }, [meter.index]);
  return (
    <section class="meters teach">
      <div class="meter-card-head">
        <h1 ref={heading} tabIndex={-1}>{t.title(meter.label)}</h1>
        <button type="button" onClick={() => (teaching.value = null)}>{t.back}</button>
      </div>
      {capture === null || capture.kind === 'nothing' ? <p role="status">{t.nothing}</p>
        : capture.kind === 'noise' ? (
          <>
            <p role="status">{t.noise(capture.bytes)}</p>
            <div><button type="button" onClick={() => { teaching.value = null; findOut(meter.address); }}>{texts.finding.start}</button></div>
          </>
        )
        : capture.kind === 'text' ? <TeachLines meter={meter} capture={capture} /> : <TeachFrames meter={meter} capture={capture} />}
    </section>
  );
}
