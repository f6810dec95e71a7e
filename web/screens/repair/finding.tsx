/** What was found, as the user writes it. */
import { useState } from 'preact/hooks';
import { live, notice } from '../../state.ts';
import { texts } from '../../texts.ts';
import { request } from '../../actions.ts';
import { ByReadings } from './by-readings.tsx';

const t = texts.repair;

interface Props {
  readonly finding: string;
  readonly mayWrite: boolean;
  /** Null: nothing is stored yet. */
  readonly session: string | null;
  /** Takes before the first repair. */
  readonly takes: number;
}

export function Finding({ finding, mayWrite, session, takes }: Props) {
  return (
    <section class="panel" aria-label={t.found}>
      <h2>{t.found}</h2>
      {mayWrite
        ? <FindingForm finding={finding} session={session} takes={takes} />
        : <>{session !== null && <ByReadings session={session} takes={takes} onTake={null} />}<p class="said">{finding === '' ? t.nothingFound : finding}</p></>}
    </section>
  );
}

function FindingForm({ finding, session, takes }: Omit<Props, 'mayWrite'>) {
  // What is being typed, and on which state of it; null while nobody types.
  const [typed, setTyped] = useState<{ readonly text: string; readonly basedOn: number } | null>(null);
  const save = (event: SubmitEvent): void => {
    event.preventDefault();
    if (typed === null) return;
    void request({ type: 'note-finding', basedOn: typed.basedOn, text: typed.text.trim() }).then((isDone) => {
      // What somebody else wrote meanwhile is shown; pressing again puts this in its place knowingly.
      setTyped(isDone ? null : { ...typed, basedOn: live.value!.repair.revision });
      if (isDone) notice.value = { kind: 'done', text: t.saved };
    });
  };
  return (
    <form onSubmit={save}>
      {session !== null && <ByReadings session={session} takes={takes} onTake={(words) => setTyped({ text: words, basedOn: live.value!.repair.revision })} />}
      <label>{t.foundHow}
        <textarea value={typed?.text ?? finding} maxLength={4000} onInput={(event) => setTyped({ text: event.currentTarget.value, basedOn: typed?.basedOn ?? live.value!.repair.revision })} />
      </label>
      {typed !== null && typed.basedOn === live.value!.repair.revision && finding !== '' && <p class="hint">{t.nowWritten(finding)}</p>}
      <button type="submit" disabled={typed === null || typed.text.trim() === finding}>{t.save}</button>
    </form>
  );
}
