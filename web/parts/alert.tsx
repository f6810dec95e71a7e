/** Something that can't wait, with its sign. */
import type { ComponentChildren } from 'preact';
import { Icon } from './glyphs.tsx';

export function Alert({ kind, children }: { kind: 'faulty' | 'abnormal'; children: ComponentChildren }) {
  return <div class={`alert is-${kind}`}><Icon name="caution" /><div>{children}</div></div>;
}
