/**
 * What can be the matter with a link, as the user is told it: one catalogue of codes and sentences. Each
 * sentence says what to do.
 */
import type { LinkState, LinkStatus } from './meter.ts';

export const LINK_TROUBLES = {
  PORT_MISSING: 'There is no port at this address.',
  PORT_GONE: 'The port went away: the cable was pulled or the meter was switched off.',
  PORT_BUSY: 'Another program has the port open.',
  PORT_FORBIDDEN: 'This user may not open the port.',
  PORT_SETTINGS: 'The port refuses these settings.',
  PORT_FAILED: 'The port cannot be opened.',
  SERIAL_UNAVAILABLE: 'Serial ports are not available in this installation.',
  METER_SILENT: 'The link is open, but the meter says nothing.',
  METER_UNREADABLE: 'The meter sends something that cannot be read.',
  PORT_AMBIGUOUS: 'Several adapters fit this address.',
  PLAYBACK_FAILED: 'The recording cannot be played.',
  HOST_UNREACHABLE: 'The far end of the network link does not answer.',
} as const;
export type LinkCode = keyof typeof LINK_TROUBLES;

/** @param advice  what to do, a sentence or more */
export function trouble(state: LinkState, code: LinkCode, advice: string): LinkStatus {
  return { state, code, message: `${LINK_TROUBLES[code]} ${advice}` };
}

/** @returns the status of a link with which nothing is wrong */
export function untroubled(state: LinkState): LinkStatus {
  return { state, code: '', message: '' };
}
