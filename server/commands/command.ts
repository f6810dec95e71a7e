/** What every command of server/main.ts is: words in, text out, an exit code back. */
import type { Writable } from 'node:stream';

export interface CommandIo { readonly stdout: Pick<Writable, 'write'>; readonly stderr: Pick<Writable, 'write'> }

/** @returns the exit code */
export type Command = (args: string[], io: CommandIo) => Promise<number>;
