/** What the user's examples come to: a way of reading that can be saved, a question, or why there is none. */
import { useState } from 'preact/hooks';
import type { LiveMeter, TaughtAnswer } from '../../../server/live/protocol.ts';
import { texts } from '../../texts.ts';
import { shownText } from './shown-text.ts';
import { saveAndUse, teaching } from './teaching.ts';

interface Props {
  readonly meter: LiveMeter;
  readonly answer: TaughtAnswer;
  /** Frames with unknown marks are not asked for any more. */
  readonly onLeaveUnknown?: () => void;
  /** The line or frame that is asked for becomes an example. */
  readonly onKeep?: (sent: string) => void;
}

export function TaughtPanel({ meter, answer, onLeaveUnknown, onKeep }: Props) {
  const t = texts.teach;
  if (answer.kind === 'failed') return <p class="form-error" role="alert">{t.failed(answer.why)}</p>;
  if (answer.kind === 'taught') return <Taught meter={meter} answer={answer} />;
  const { ways, ask: asks, couldBe } = answer;
  return (
    <div class="teach-ask" role="status">
      <p>{ways === 1 ? t.unknownMark(couldBe[0] ?? '') : t.ambiguous(ways, couldBe)}</p>
      {asks !== null && <p><code>{asks}</code></p>}
      <div class="meter-card-buttons">
        {asks !== null && onKeep !== undefined && <button type="button" onClick={() => onKeep(asks)}>{t.keepAsked}</button>}
        {ways === 1 && onLeaveUnknown !== undefined && <button type="button" onClick={onLeaveUnknown}>{t.leaveUnknown}</button>}
      </div>
    </div>
  );
}

function Taught({ meter, answer: { layout, undetermined, preview } }: { meter: LiveMeter; answer: Extract<TaughtAnswer, { kind: 'taught' }> }) {
  const t = texts.teach;
  const [name, setName] = useState(() => slug(meter.label));
  const save = async (event: SubmitEvent): Promise<void> => {
    event.preventDefault();
    if (await saveAndUse(meter.index, { ...layout, name })) teaching.value = null;
  };
  return (
    <section class="taught">
      <h2>{t.taught}</h2>
      <div class="preview" role="region" tabIndex={0} aria-label={t.preview}><ul>
        {preview.map(({ sent, reading }, i) => (
          <li key={i}><code>{sent}</code> <b>{reading === null ? t.unread : shownText(reading)}</b></li>
        ))}
      </ul></div>
      {undetermined.length > 0 && <><h3>{t.undetermined}</h3><ul class="hint">{undetermined.map((one) => <li key={one}>{one}</li>)}</ul></>}
      <form class="teach-save" onSubmit={(event) => void save(event)}>
        <label>{t.name}<input value={name} required pattern="[a-z0-9][a-z0-9\-]{0,63}" title={t.nameRule} onInput={(event) => setName(event.currentTarget.value)} /></label>
        <p class="hint">{t.nameRule}</p>
        <button type="submit" class="strong">{t.save}</button>
      </form>
    </section>
  );
}

/** "Bench meter 2" to "bench-meter-2". */
function slug(label: string): string {
  return label.toLowerCase().replace(/[^a-z0-9]+/g, '-').replace(/^-+|-+$/g, '').slice(0, 40) || 'my-meter';
}
