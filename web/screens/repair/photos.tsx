/** Pictures of a repair: thumbnails, and the way in from a file or the camera. */
import { useState } from 'preact/hooks';
import type { Photo } from '../../../server/session/repair.ts';
import { request } from '../../actions.ts';
import { notice } from '../../state.ts';
import { texts } from '../../texts.ts';
import { messageOf } from '../review/recordings.ts';
import { smallPicture } from './small-picture.ts';

const t = texts.repair;

interface Props {
  readonly photos: readonly Photo[];
  /** Null: the one at hand. */
  readonly session: string | null;
  readonly mayRemove: boolean;
}

export function Photos({ photos, session, mayRemove }: Props) {
  if (photos.length === 0) return null;
  return (
    <ul class="photos" aria-label={t.photos}>
      {photos.map(({ id }, order) => {
        const address = session === null ? `/api/repair/photos/${id}` : `/api/sessions/${encodeURIComponent(session)}/photos/${id}`;
        return (
          <li key={id}>
            <a href={address} target="_blank" rel="noreferrer"><img src={address} alt={t.photo(order + 1)} /></a>
            {mayRemove && <button type="button" aria-label={t.removePhoto(order + 1)} onClick={() => void request({ type: 'drop-photo', photo: id })}>{t.remove}</button>}
          </li>
        );
      })}
    </ul>
  );
}

export function AddPhotos() {
  const [isAdding, setAdding] = useState(false);
  const add = (input: HTMLInputElement): void => {
    const files = [...(input.files ?? [])];
    setAdding(true);
    void addAll(files).then((trouble) => {
      setAdding(false);
      input.value = '';
      if (trouble !== '') notice.value = { kind: 'trouble', text: trouble };
    });
  };
  return (
    <label class="add-photos">{isAdding ? t.addingPhotos : t.addPhotos}
      <input type="file" accept="image/*" multiple disabled={isAdding} onChange={(event) => add(event.currentTarget)} />
    </label>
  );
}

/** @returns what went wrong; empty when nothing did */
async function addAll(files: readonly File[]): Promise<string> {
  for (const file of files) {
    const picture = await smallPicture(file);
    if (picture === null) return t.notAPicture(file.name);
    try {
      const answer = await fetch('/api/repair/photos', { method: 'POST', body: picture, headers: { 'Content-Type': 'image/jpeg' } });
      if (!answer.ok) return await messageOf(answer);
    } catch {
      return texts.review.noContact;
    }
  }
  return '';
}
