/** The way to a Sharing that loads what makes certificates only when something is shared. */
import type { Sharing, SharingOptions } from './sharing.ts';

/** @throws {SharingError} when files of its folder are damaged or can't be used */
export async function openSharing(options: SharingOptions): Promise<Sharing> {
  return (await import('./sharing.ts')).Sharing.open(options);
}
