/** Lines of text: the user points at the number and the unit, or types what the display showed. */
import { useEffect, useState } from 'preact/hooks';
import { partsOfLine, type LinePart } from '../../../drivers/teach/line-parts.ts';
import type { Capture, LiveMeter, TaughtAnswer, TextChoice } from '../../../server/live/protocol.ts';
import { texts } from '../../texts.ts';
import { TaughtPanel } from './taught-panel.tsx';
import { teach } from './teaching.ts';

/** Lines that stand still, to be pointed at. */
const LINES = 4;
/** The user types on meanwhile, ms. */
const TYPING_MS = 500;

export function TeachLines({ meter, capture }: { meter: LiveMeter; capture: Capture }) {
  const t = texts.teach;
  const [lines, setLines] = useState(() => different(capture.lines));
  const [shown, setShown] = useState<Readonly<Record<string, string>>>({});
  const [chosen, setChosen] = useState<TextChoice | null>(null);
  const [answer, setAnswer] = useState<TaughtAnswer | null>(null);
  useEffect(() => {
    const now = different(capture.lines);
    if (lines.length < LINES && now.length > lines.length) setLines(now);
  }, [capture]);
  useEffect(() => {
    const examples = Object.entries(shown).filter(([, text]) => text.trim() !== '').map(([line, text]) => ({ line, shown: text.trim() }));
    if (chosen === null && examples.length === 0) return setAnswer(null);
    let isOver = false;
    const timer = window.setTimeout(() => {
      void teach({ type: 'teach-lines', meter: meter.index, name: 'taught', examples, chosen }).then((now) => !isOver && setAnswer(now));
    }, chosen === null ? TYPING_MS : 0);
    return () => {
      isOver = true;
      clearTimeout(timer);
    };
  }, [shown, chosen]);

  const point = ({ field, isUnit, text }: LinePart): void => {
    const newline = chosen?.newline ?? 'lf';
    setShown({});
    if (field !== null) setChosen({ ...chosen, newline, field });
    else if (isUnit) setChosen({ ...chosen, newline, unit: text });
  };
  const type = (line: string, text: string): void => {
    setChosen(null);
    setShown({ ...shown, [line]: text });
  };
  const newest = (): void => {
    setLines(different(capture.lines));
    setShown({});
  };
  return (
    <>
      <p>{t.linesHow}</p>
      <ol class="teach-lines">
        {lines.map((line, row) => (
          <li key={`${row} ${line}`}>
            <div class="line-parts">
              {partsOfLine(line).map((part, i) => (part.field === null && !part.isUnit
                ? <span key={i}>{part.text}</span>
                : <button key={i} type="button" aria-pressed={part.field === null ? chosen?.unit === part.text : chosen?.field === part.field} onClick={() => point(part)}>{part.text}</button>))}
            </div>
            <label>{t.displayShowed(row + 1)}<input value={shown[line] ?? ''} maxLength={60} placeholder="12.34 V" onInput={(event) => type(line, event.currentTarget.value)} /></label>
          </li>
        ))}
      </ol>
      <div><button type="button" onClick={newest}>{t.newerLines}</button></div>
      {answer !== null && <TaughtPanel meter={meter} answer={answer} />}
    </>
  );
}

/** The newest lines, each once. */
function different(lines: readonly string[]): string[] {
  return [...new Set(lines)].slice(-LINES);
}
