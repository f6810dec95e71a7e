/** Frames of bytes: the user keeps some, and types what the display showed at that moment. */
import { useState } from 'preact/hooks';
import { newsOf } from '../../../drivers/teach/frames.ts';
import type { Capture, FrameExample, LiveMeter, TaughtAnswer } from '../../../server/live/protocol.ts';
import { texts } from '../../texts.ts';
import { TaughtPanel } from './taught-panel.tsx';
import { teach } from './teaching.ts';

/** About so many examples, different from each other, teach most meters. */
const USUAL_EXAMPLES = 6;

export function TeachFrames({ meter, capture }: { meter: LiveMeter; capture: Capture }) {
  const t = texts.teach;
  const [examples, setExamples] = useState<readonly FrameExample[]>([]);
  const [answer, setAnswer] = useState<TaughtAnswer | null>(null);
  const [isBusy, setBusy] = useState(false);
  const newest = capture.frames.at(-1) ?? '';
  const typed = examples.filter(({ shown }) => shown.trim() !== '').map(({ frame, shown }) => ({ frame, shown: shown.trim() }));

  const keep = (frame: string): void => {
    if (!examples.some((example) => example.frame === frame)) setExamples([...examples, { frame, shown: '' }]);
  };
  const workOut = async (leavesUnknown: boolean): Promise<void> => {
    setBusy(true);
    const now = await teach({ type: 'teach-frames', meter: meter.index, name: 'taught', examples: typed, leavesUnknown });
    setBusy(false);
    if (now !== null) setAnswer(now);
  };
  const submit = (event: SubmitEvent): void => {
    event.preventDefault();
    void workOut(false);
  };
  return (
    <>
      <p>{t.framesHow(USUAL_EXAMPLES)}</p>
      <section class="newest-frame" aria-label={t.newest}>
        <Hex frame={newest} fixed={capture.fixed} />
        <p class="hint">{t.captured(capture.count, newest.length / 2)}</p>
        {examples.length > 0 && newsOf(capture.marks, examples.map(({ frame }) => bytesOf(frame)), bytesOf(newest)) > 0 && <p class="frame-news">{t.showsNew}</p>}
        <button type="button" class="strong" onClick={() => keep(newest)}>{t.keep}</button>
      </section>
      <form class="teach-examples" onSubmit={submit}>
        <ol>
          {examples.map(({ frame, shown }, i) => (
            <li key={frame}>
              <Hex frame={frame} fixed={capture.fixed} />
              <label>{t.displayShowed(i + 1)}
                <input
                  value={shown} maxLength={60} placeholder="-12.34 mV DC" autoFocus={i === examples.length - 1}
                  onInput={({ currentTarget: { value } }) => setExamples(examples.map((example) => (example.frame === frame ? { frame, shown: value } : example)))}
                />
              </label>
              <button type="button" aria-label={t.removeExample(i + 1)} onClick={() => setExamples(examples.filter((example) => example.frame !== frame))}>{t.remove}</button>
            </li>
          ))}
        </ol>
        {examples.length > 0 && <button type="submit" class="strong" disabled={isBusy || typed.length === 0}>{isBusy ? t.working : t.workOut(typed.length)}</button>}
      </form>
      {answer !== null && <TaughtPanel meter={meter} answer={answer} onLeaveUnknown={() => void workOut(true)} onKeep={keep} />}
    </>
  );
}

function bytesOf(frame: string): Uint8Array {
  return Uint8Array.from(frame.match(/../g) ?? [], (byte) => parseInt(byte, 16));
}

/** Bytes in hexadecimal; those that change stand out. */
function Hex({ frame, fixed }: { frame: string; fixed: readonly boolean[] }) {
  const bytes = frame.match(/../g) ?? [];
  return <code class="hex">{bytes.map((byte, i) => (fixed[i] === true ? <span key={i}>{byte} </span> : <b key={i}>{byte} </b>))}</code>;
}
