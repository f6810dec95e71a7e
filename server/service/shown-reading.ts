/** A reading as JSON can carry it. */
import type { Reading } from '../../drivers/reading.ts';
import type { ShownReading } from '../live/protocol.ts';

export function shownReading({ quantity, coupling, value, resolution, flags }: Reading): ShownReading {
  return { quantity, coupling, value: Number.isFinite(value) ? value : null, resolution: Number.isFinite(resolution) ? resolution : null, flags };
}
