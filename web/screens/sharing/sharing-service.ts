/** Sharing as the service sees it, asked for once a second while the panel is open. */
import { signal } from '@preact/signals';
import type { Role, SharingState } from '../../../server/live/sharing-protocol.ts';
import { texts } from '../../texts.ts';

const ASK_EVERY_MS = 1000;

export const sharing = signal<SharingState | null>(null);
/** Why the last change was not made; empty when it was. */
export const sharingTrouble = signal('');

/** @returns a function that stops asking */
export function followSharing(): () => void {
  const ask = (): void => void call('GET', '');
  ask();
  const timer = setInterval(ask, ASK_EVERY_MS);
  return () => clearInterval(timer);
}

export function openCode(role: Role): Promise<void> {
  return call('POST', '/code', { role });
}

export function closeCode(): Promise<void> {
  return call('DELETE', '/code');
}

export function setRole(device: string, role: Role): Promise<void> {
  return call('POST', `/devices/${encodeURIComponent(device)}`, { role });
}

export function withdraw(device: string): Promise<void> {
  return call('DELETE', `/devices/${encodeURIComponent(device)}`);
}

async function call(method: string, path: string, body?: object): Promise<void> {
  const isChange = method !== 'GET';
  try {
    const answer = await fetch(`/api/sharing${path}`, {
      method, ...(body === undefined ? {} : { body: JSON.stringify(body), headers: { 'Content-Type': 'application/json' } }),
    });
    const said: unknown = await answer.json();
    if (answer.ok) sharing.value = said as SharingState;
    if (answer.ok && isChange) sharingTrouble.value = '';
    if (!answer.ok) sharingTrouble.value = (said as { message: string }).message;
  } catch {
    sharingTrouble.value = texts.trouble.noContact;
  }
}
