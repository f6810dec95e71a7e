/** Notes on a session or on one of its takes: written, changed, taken out, each kept in the session's file at once. */
import { signal } from '@preact/signals';
import { useEffect, useState } from 'preact/hooks';
import type { Note } from '../../../server/live/library-protocol.ts';
import { clockText } from '../../figures/time-text.ts';
import { texts } from '../../texts.ts';
import { loadNotes, putNote } from './shelf/shelf-service.ts';

const t = texts.notes;

/** Of the session that is looked at; null while they are not read. */
const known = signal<{ readonly session: string; readonly notes: readonly Note[] } | null>(null);

interface Props {
  readonly session: string;
  /** Null for those on the session itself. */
  readonly take: { readonly id: number; readonly start: number } | null;
  /** Where the cursor is, session clock, s: a new note is about that place. */
  readonly cursor: number | null;
  readonly onGoTo: (at: number) => void;
}

export function Notes({ session, take, cursor, onGoTo }: Props) {
  const [text, setText] = useState('');
  const [taken, setTaken] = useState<Note | null>(null);
  useEffect(() => {
    if (known.value?.session !== session) known.value = null;
    void loadNotes(session).then((notes) => {
      if (notes !== undefined) known.value = { session, notes };
    });
  }, [session]);
  const notes = known.value?.session === session ? known.value.notes.filter((note) => note.take === (take?.id ?? null)) : [];
  const put = async (note: Pick<Note, 'id' | 'take' | 'at' | 'text'>): Promise<boolean> => {
    const all = await putNote(session, note);
    if (all !== undefined) known.value = { session, notes: all };
    return all !== undefined;
  };
  const place = (at: number): string => clockText(at - (take?.start ?? 0), 2);
  const add = (event: Event): void => {
    event.preventDefault();
    if (text.trim() === '') return;
    void put({ id: crypto.randomUUID(), take: take?.id ?? null, at: cursor, text: text.trim() }).then((isKept) => {
      if (!isKept) return;
      setText('');
      setTaken(null);
    });
  };
  const takeOut = (note: Note): void => void put({ ...note, text: '' }).then((isDone) => isDone && setTaken(note));
  const bringBack = (note: Note): void => void put(note).then((isDone) => isDone && setTaken(null));
  return (
    <section class="notes" aria-label={take === null ? t.ofSession : t.ofTake}>
      <h3>{take === null ? t.ofSession : t.ofTake}</h3>
      {notes.length > 0 && (
        <ul>
          {notes.map((note) => (
            <OneNote key={note.id} note={note} place={note.at === null ? '' : place(note.at)} onGoTo={onGoTo} onTakeOut={() => takeOut(note)} onChange={(changed) => put({ ...note, text: changed })} />
          ))}
        </ul>
      )}
      <p role="status">{taken !== null && <>{t.taken} <button type="button" onClick={() => bringBack(taken)}>{t.undo}</button></>}</p>
      <form onSubmit={add}>
        <label>{cursor === null ? t.add : t.addAt(place(cursor))}<textarea rows={2} maxLength={4000} value={text} onInput={(event) => setText(event.currentTarget.value)} /></label>
        <button type="submit" disabled={text.trim() === ''}>{t.keep}</button>
      </form>
    </section>
  );
}

interface OneProps {
  readonly note: Note;
  /** Where in the take; empty for nowhere in particular. */
  readonly place: string;
  readonly onGoTo: (at: number) => void;
  readonly onTakeOut: () => void;
  readonly onChange: (text: string) => Promise<boolean>;
}

function OneNote({ note, place, onGoTo, onTakeOut, onChange }: OneProps) {
  const [draft, setDraft] = useState<string | null>(null);
  const save = (event: Event): void => {
    event.preventDefault();
    void onChange(draft!.trim()).then((isKept) => isKept && setDraft(null));
  };
  if (draft !== null) {
    return (
      <li>
        <form onSubmit={save}>
          <label>{t.change}<textarea rows={3} maxLength={4000} value={draft} onInput={(event) => setDraft(event.currentTarget.value)} /></label>
          <div class="row">
            <button type="submit" disabled={draft.trim() === ''}>{t.keep}</button>
            <button type="button" class="quiet" onClick={() => setDraft(null)}>{t.leave}</button>
          </div>
        </form>
      </li>
    );
  }
  return (
    <li>
      {note.at !== null && <button type="button" class="note-place" aria-label={t.goTo(place)} onClick={() => onGoTo(note.at!)}>{place}</button>}
      <p>{note.text}</p>
      <div class="row">
        <button type="button" class="quiet" onClick={() => setDraft(note.text)}>{t.change}</button>
        <button type="button" class="quiet" onClick={onTakeOut}>{t.takeOut}</button>
      </div>
    </li>
  );
}
