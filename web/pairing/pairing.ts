/** Pairing this device with the service. */
import { signal } from '@preact/signals';
import type { Pairing } from '../../server/live/sharing-protocol.ts';
import { texts } from '../texts.ts';

/** What to do next, when something is in the way; empty otherwise. */
export const trouble = signal('');
export const isTrying = signal(false);

/** The code of a scanned address, taken out of the address so that it stays in no history; empty when it has none. */
export function forgetCode(): string {
  let code = '';
  try {
    code = decodeURIComponent(location.hash.slice(1));
  } catch {
    // Not a code: the field stays empty.
  }
  history.replaceState(null, '', location.pathname);
  return code;
}

/** A device that is paired goes on to the dashboard. One that was and no longer is hears why. */
export async function goOnIfPaired(): Promise<void> {
  const answer = await fetch('/api/access').catch(() => null);
  if (answer?.ok === true) location.replace('/');
  else if (answer?.status === 401) {
    const { code, message } = (await answer.json()) as { code: string; message: string };
    if (code !== 'NOT_PAIRED') trouble.value = message;
  }
}

export async function pair(asked: Pairing): Promise<void> {
  if (isTrying.value) return;
  isTrying.value = true;
  trouble.value = '';
  try {
    const answer = await fetch('/api/pairing', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(asked) });
    if (answer.ok) location.replace('/');
    else trouble.value = ((await answer.json()) as { message: string }).message;
  } catch {
    trouble.value = texts.sharing.pairing.noContact;
  } finally {
    isTrying.value = false;
  }
}
