/** How much room the recordings take, and how much is left. */
import { useEffect } from 'preact/hooks';
import { PLACES } from '../../../../server/live/library-protocol.ts';
import { bytesText } from '../../../figures/bytes-text.ts';
import { texts } from '../../../texts.ts';
import { sessions } from '../recordings.ts';
import { folderSpace, loadSpace } from './shelf-service.ts';

export function SpaceLine() {
  const t = texts.shelf;
  // What a list shows has changed: so may have the room.
  useEffect(() => void loadSpace(), [sessions.value]);
  const space = folderSpace.value;
  if (space === null) return null;
  const taken = PLACES.filter((place) => space.used[place] > 0).map((place) => t.takes(t.places[place], bytesText(space.used[place])));
  return <p class="hint space-line">{[...(space.freeBytes === null ? [] : [t.free(bytesText(space.freeBytes))]), ...taken].join(' · ')}</p>;
}
