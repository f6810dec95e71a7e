/** The next repair: what is done, where, pictures of it; noted with the time when all of it is done. */
import { useEffect, useState } from 'preact/hooks';
import { partIds } from '../../../server/session/chart.ts';
import type { Chart } from '../../../server/session/chart.ts';
import { request } from '../../actions.ts';
import { ask, RequestFailed } from '../../live/index.ts';
import { live } from '../../state.ts';
import { texts } from '../../texts.ts';
import { draft } from './draft.ts';
import { AddPhotos, Photos } from './photos.tsx';

const t = texts.repair;

export function RepairForm() {
  const { repair, take } = live.value!;
  const [isFolded, setFolded] = useState(repair.open !== null);
  // After a repair is noted the next step is its proof, not another repair.
  useEffect(() => setFolded(repair.open !== null), [repair.open]);
  const note = (event: SubmitEvent): void => {
    event.preventDefault();
    const { text, place } = draft.value;
    void request({ type: 'note-repair', basedOn: live.value!.repair.revision, text, place: place.trim() }).then((isDone) => {
      if (isDone) draft.value = { text: '', place: '' };
    });
  };
  if (isFolded) return null;
  return (
    <form onSubmit={note} aria-label={t.form}>
      <RepairFields text={draft.value.text} place={draft.value.place} onChange={(change) => (draft.value = { ...draft.value, ...change })} />
      <Photos photos={repair.photos} session={null} mayRemove />
      <AddPhotos />
      <p class="hint">{t.noteMeans}</p>
      <button type="submit" class="strong" disabled={take !== null}>{t.note}</button>
      {take !== null && <p class="hint">{t.stopFirst}</p>}
    </form>
  );
}

interface FieldsProps {
  readonly text: string;
  readonly place: string;
  readonly onChange: (change: { readonly text?: string; readonly place?: string }) => void;
}

export function RepairFields({ text, place, onChange }: FieldsProps) {
  const places = usePlaces();
  return (
    <>
      <label>{t.done}<textarea value={text} maxLength={4000} placeholder={t.doneHint} onInput={(event) => onChange({ text: event.currentTarget.value })} /></label>
      <label>{t.place}
        <input value={place} maxLength={200} list="repair-places" onInput={(event) => onChange({ place: event.currentTarget.value })} />
        <datalist id="repair-places">{places.map((id) => <option key={id} value={id} />)}</datalist>
      </label>
    </>
  );
}

/** Points, spans and components of the chart. */
function usePlaces(): readonly string[] {
  const [parts, setParts] = useState<readonly string[]>([]);
  const { chart, points } = live.value!;
  useEffect(() => {
    ask({ type: 'read-chart' }).then((answer) => {
      const { chart: read } = answer as { chart: Chart | null };
      setParts(read === null ? [] : partIds(read));
    }, (error: unknown) => {
      // Without the list a place is typed.
      if (!(error instanceof RequestFailed)) throw error;
    });
  }, [chart.revision]);
  return [...points, ...parts];
}
