/** What is typed of a repair that is not noted yet: it outlives a look at another screen. */
import { signal } from '@preact/signals';

export const draft = signal<{ readonly text: string; readonly place: string }>({ text: '', place: '' });
