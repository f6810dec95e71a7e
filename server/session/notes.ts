/** Notes: what somebody writes about a session afterwards, each by itself, so that two people never overwrite each other's. Pure. */

export interface Note {
  /** Made up by whoever writes it. */
  readonly id: string;
  /** Null when it is about the whole session. */
  readonly take: number | null;
  /** Place in the take that it is about, session clock, s; null for none. */
  readonly at: number | null;
  /** Wall time when it was last written, ms since 1970. */
  readonly writtenAt: number;
  readonly text: string;
}

/** Name of the document that holds them. */
export const NOTES = 'notes';

/** The notes with one added or, where its id is known, changed; one without text is taken out. In order of take and place. */
export function withNote(notes: readonly Note[], note: Note): Note[] {
  const others = notes.filter(({ id }) => id !== note.id);
  const all = note.text.trim() === '' ? others : [...others, note];
  return all.sort((a, b) => (a.take ?? 0) - (b.take ?? 0) || (a.at ?? -Infinity) - (b.at ?? -Infinity) || a.writtenAt - b.writtenAt);
}

/** What was stored, whatever it is, as notes. */
export function notesOf(stored: unknown): Note[] {
  if (typeof stored === 'string' && stored.trim() !== '') return [{ id: 'text', take: null, at: null, writtenAt: 0, text: stored }];
  return Array.isArray(stored) ? stored.filter((note): note is Note => typeof note === 'object' && note !== null && typeof (note as Note).text === 'string') : [];
}
