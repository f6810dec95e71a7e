/** What this page may do, asked anew whenever contact comes back or is lost. */
import { computed, effect, signal } from '@preact/signals';
import type { Access } from '../../../server/live/sharing-protocol.ts';
import { contact } from '../../state.ts';

/** Null until the service has said it. */
export const access = signal<Access | null>(null);

/** Whether this page may change something; the service refuses it anyway where it may not. */
export const mayControl = computed(() => access.value?.role !== 'watch');

export function startAccess(): void {
  // Contact is heard anew with every message; only its coming and going matters here.
  const state = computed(() => contact.value.state);
  effect(() => {
    if (state.value !== 'connecting') void askAccess();
  });
}

async function askAccess(): Promise<void> {
  const answer = await fetch('/api/access').catch(() => null);
  if (answer === null) return;
  // No longer paired: the pairing page says why and what to do.
  if (answer.status === 401) location.replace('/pairing.html');
  else if (answer.ok) access.value = (await answer.json()) as Access;
}
