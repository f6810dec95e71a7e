/** Layouts that come with Loomtrace, one JSON file each. `origin` in the file says how far each can be trusted. */
import { type FrameLayout, parseFrameLayout } from '../frame-layout.ts';
import mirroredDisplay14 from './mirrored-display-14.json' with { type: 'json' };
import panelAscii11 from './panel-ascii-11.json' with { type: 'json' };

export const LAYOUTS: readonly FrameLayout[] = [mirroredDisplay14, panelAscii11].map((data) => {
  const parsed = parseFrameLayout(data);
  if (parsed.kind === 'unusable') throw new TypeError(`the layout "${data.name}" is unusable: ${parsed.faults.join('; ')}`);
  return parsed.layout;
});
