/**
 * What is remembered of meters from one start to the next: which were attached, and the profile of each. A meter on an adapter with
 * a serial number is remembered by that number, not by the name of its port, nor by its baud rate.
 */
import { copyFileSync, existsSync, mkdirSync, readFileSync, renameSync, writeFileSync } from 'node:fs';
import { dirname } from 'node:path';
import { z } from 'zod';
import { AddressError, meterIdentity } from '../../drivers/index.ts';
import { type MeterProfile, meterProfileSchema } from '../session/meter-profile.ts';

/** Profiles by what a meter is remembered by; before version 2 by its whole address. */
const fileSchema = z.object({ version: z.number().default(1), attached: z.array(z.string()).default([]), profiles: z.record(z.string(), z.unknown()).default({}) });

interface Remembered {
  readonly attached: readonly string[];
  readonly profiles: Readonly<Record<string, MeterProfile>>;
  /** Profiles that this version can't read; they stay in the file as they are. */
  readonly unread: Readonly<Record<string, unknown>>;
}

export class MeterMemory {
  readonly #file: string;
  #remembered: Remembered;

  /** A file that is missing counts as empty; one that can't be read is set aside, and said so: the service starts all the same. */
  constructor(file: string) {
    this.#file = file;
    this.#remembered = read(file);
  }

  /** Addresses of the meters attached when the service last ran. */
  attached(): readonly string[] {
    return this.#remembered.attached;
  }

  profile(address: string): MeterProfile {
    return this.#remembered.profiles[identityOf(address)] ?? {};
  }

  setAttached(addresses: readonly string[]): void {
    this.#write({ ...this.#remembered, attached: [...addresses] });
  }

  /** Fields left out stay as they are. */
  learn(address: string, known: MeterProfile): void {
    const { profiles } = this.#remembered;
    const identity = identityOf(address);
    this.#write({ ...this.#remembered, profiles: { ...profiles, [identity]: joined(profiles[identity], known) } });
  }

  #write(next: Remembered): void {
    this.#remembered = next;
    const { attached, profiles, unread } = next;
    try {
      mkdirSync(dirname(this.#file), { recursive: true });
      writeFileSync(`${this.#file}.part`, JSON.stringify({ version: 2, attached, profiles: { ...unread, ...profiles } }, null, 2));
      renameSync(`${this.#file}.part`, this.#file);
    } catch (error) {
      // A disk that is full or read-only is told about by the recorder; here it costs only the memory of meters.
      console.error(`Meters can't be remembered: ${(error as Error).message}`);
    }
  }
}

function joined(before: MeterProfile | undefined, known: MeterProfile): MeterProfile {
  return { ...before, ...Object.fromEntries(Object.entries(known).filter(([, value]) => value !== undefined)) };
}

/** What a meter is remembered by; an address that no meter can have any more is its own name. */
export function identityOf(address: string): string {
  try {
    return meterIdentity(address);
  } catch (error) {
    if (!(error instanceof AddressError)) throw error;
    return address;
  }
}

function read(file: string): Remembered {
  if (!existsSync(file)) return { attached: [], profiles: {}, unread: {} };
  try {
    const { attached, profiles: stored } = fileSchema.parse(JSON.parse(readFileSync(file, 'utf8')));
    const profiles: Record<string, MeterProfile> = {};
    const unread: Record<string, unknown> = {};
    for (const [name, content] of Object.entries(stored)) {
      const parsed = meterProfileSchema.safeParse(content);
      // A file of before named each meter by its whole address: what was said of one instrument at two baud rates comes together.
      if (parsed.success) profiles[identityOf(name)] = joined(profiles[identityOf(name)], parsed.data as MeterProfile);
      else unread[name] = content;
    }
    return { attached, profiles, unread };
  } catch (error) {
    setAside(file, error as Error);
    return { attached: [], profiles: {}, unread: {} };
  }
}

function setAside(file: string, { message }: Error): void {
  try {
    const copy = `${file}.unread`;
    copyFileSync(file, copy);
    console.error(`What was known of meters can't be read (${message}); it is kept in ${copy}.`);
  } catch (error) {
    console.error(`What was known of meters can't be read: ${(error as Error).message}`);
  }
}
