/** What the readings taken before the first repair say of the place; worked out by the service, in a second or so. */
import { useEffect, useState } from 'preact/hooks';
import type { FoundByReadings } from '../../../server/live/library-protocol.ts';
import { chanceWords } from '../../../server/session/fault-words.ts';
import { texts } from '../../texts.ts';
import { loadFound } from '../review/recordings.ts';

const t = texts.repair;

interface Props {
  readonly session: string;
  /** Takes before the first repair: asked again when there are more. */
  readonly takes: number;
  /** Makes the words those of the user; null where nothing can be written. */
  readonly onTake: ((words: string) => void) | null;
}

export function ByReadings({ session, takes, onTake }: Props) {
  const [found, setFound] = useState<FoundByReadings | null>(null);
  useEffect(() => {
    let isWanted = true;
    void loadFound(session).then((loaded) => {
      if (isWanted && loaded.state === 'loaded') setFound(loaded.value);
    });
    return () => {
      isWanted = false;
    };
  }, [session, takes]);
  if (found === null) return null;
  return (
    <div class="by-readings">
      <p>{found.isFound ? <b>{t.byReadings(chanceWords(found.chance), found.words)}</b> : t.byReadingsUnsure(found.brief, chanceWords(found.chance))}</p>
      {found.isFound && onTake !== null && <button type="button" onClick={() => onTake(found.words)}>{t.takeAsFinding}</button>}
    </div>
  );
}
