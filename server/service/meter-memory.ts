/**
 * What is remembered of meters from one start to the next: which were attached, and what the user knows of each. A meter on an
 * adapter with a serial number is remembered by that number (its address says so), not by the name of its port.
 */
import { mkdirSync, readFileSync, renameSync, writeFileSync } from 'node:fs';
import { dirname } from 'node:path';
import { z } from 'zod';
import type { MeterRecord } from '../session/session.ts';

/** What the user may know of a meter. */
export type MeterProfile = Partial<Pick<MeterRecord, 'label' | 'accuracy' | 'interval' | 'aperture' | 'leadOhms' | 'isolated' | 'calibrated'>>;

const number = z.number().finite();
const profile = z.object({
  label: z.string(),
  accuracy: z.object({ fraction: number.min(0), counts: number.min(0) }).nullable(),
  interval: number.positive().nullable(),
  aperture: number.positive().nullable(),
  leadOhms: number.min(0).nullable(),
  isolated: z.boolean().nullable(),
  calibrated: z.string(),
}).partial();
const stored = z.object({ attached: z.array(z.string()), profiles: z.record(z.string(), profile) });
type Stored = z.output<typeof stored>;

export class MeterMemory {
  readonly #file: string;
  #stored: Stored;

  /** A file that is missing or can't be read counts as empty: nothing in it is worth not starting for. */
  constructor(file: string) {
    this.#file = file;
    this.#stored = read(file);
  }

  /** Addresses of the meters attached when the service last ran. */
  attached(): readonly string[] {
    return this.#stored.attached;
  }

  profile(address: string): MeterProfile {
    return (this.#stored.profiles[address] ?? {}) as MeterProfile;
  }

  setAttached(addresses: readonly string[]): void {
    this.#write({ ...this.#stored, attached: [...addresses] });
  }

  learn(address: string, known: MeterProfile): void {
    const kept = Object.fromEntries(Object.entries(known).filter(([, value]) => value !== undefined));
    this.#write({ ...this.#stored, profiles: { ...this.#stored.profiles, [address]: { ...this.#stored.profiles[address], ...kept } as Stored['profiles'][string] } });
  }

  #write(next: Stored): void {
    this.#stored = next;
    try {
      mkdirSync(dirname(this.#file), { recursive: true });
      writeFileSync(`${this.#file}.part`, JSON.stringify(next, null, 2));
      renameSync(`${this.#file}.part`, this.#file);
    } catch (error) {
      // A disk that is full or read-only is told about by the recorder; here it costs only the memory of meters.
      console.error(`Meters can't be remembered: ${(error as Error).message}`);
    }
  }
}

function read(file: string): Stored {
  try {
    return stored.parse(JSON.parse(readFileSync(file, 'utf8')));
  } catch {
    return { attached: [], profiles: {} };
  }
}
