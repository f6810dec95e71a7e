/** Controls that change something: a device that may only watch sees them, switched off. The reason stands above every screen (alerts.tsx). */
import type { ComponentChildren } from 'preact';
import { mayControl } from '../screens/sharing/index.ts';

export function Control({ children }: { children: ComponentChildren }) {
  return <fieldset class="control" disabled={!mayControl.value}>{children}</fieldset>;
}
