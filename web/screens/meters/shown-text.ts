/** A reading of an unknown meter, in one line. */
import { Flag } from '../../../drivers/reading.ts';
import type { ShownReading } from '../../../server/live/protocol.ts';
import { readingText } from '../../figures/reading-text.ts';
import { texts } from '../../texts.ts';

export function shownText({ quantity, coupling, value, resolution, flags }: ShownReading): string {
  if ((flags & Flag.overRange) !== 0) return texts.reading.beyond;
  if (value === null) return texts.reading.blank;
  return `${readingText(quantity, value, resolution)}${coupling === 'none' ? '' : ` ${coupling.toUpperCase()}`}`;
}
