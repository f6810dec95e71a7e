/** A folder of JSON files, one thing each, that people can read, copy and share: layouts are kept so. */
import { mkdir, readdir, readFile, rename, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { type Layout, parseLayout } from './decoders/index.ts';

export type ReadThing<T> = { readonly kind: 'thing'; readonly thing: T } | { readonly kind: 'unusable'; readonly faults: readonly string[] };

export interface FolderContents<T> {
  readonly things: readonly T[];
  /** Files that could not be read, with what is wrong in each. */
  readonly unusable: readonly { readonly file: string; readonly faults: readonly string[] }[];
}

const NAME = /^[a-z0-9][a-z0-9-]{0,63}$/;
const LARGEST_BYTES = 1 << 20;

export class JsonFolder<T extends { readonly name: string }> {
  readonly #folder: string;
  readonly #read: (data: unknown) => ReadThing<T>;

  constructor(folder: string, read: (data: unknown) => ReadThing<T>) {
    this.#folder = folder;
    this.#read = read;
  }

  /** Everything in the folder; none when there is no folder yet. One bad file spoils no other. */
  async list(): Promise<FolderContents<T>> {
    const names = await readdir(this.#folder).catch(() => [] as string[]);
    const things: T[] = [];
    const unusable: { file: string; faults: readonly string[] }[] = [];
    for (const file of names.filter((name) => name.endsWith('.json')).sort()) {
      const read = await this.#readFile(file);
      if (read.kind === 'thing' && `${read.thing.name}.json` !== file) unusable.push({ file, faults: [`name: is "${read.thing.name}", but the file is called ${file}`] });
      else if (read.kind === 'thing') things.push(read.thing);
      else unusable.push({ file, faults: read.faults });
    }
    return { things, unusable };
  }

  /**
   * Writes a thing under its name, whole or not at all.
   * @throws {RangeError} for a thing that would not be read back, saying why
   */
  async save(thing: T): Promise<void> {
    const read = this.#read(thing);
    if (read.kind === 'unusable') throw new RangeError(`this cannot be saved: ${read.faults.join('; ')}`);
    const path = this.#pathOf(thing.name);
    await mkdir(this.#folder, { recursive: true });
    const temporary = `${path}.${process.pid}.new`;
    await writeFile(temporary, `${JSON.stringify(read.thing, null, 2)}\n`);
    await rename(temporary, path);
  }

  /** @throws {RangeError} for a name that no thing can have */
  async remove(name: string): Promise<void> {
    await rm(this.#pathOf(name), { force: true });
  }

  #pathOf(name: string): string {
    if (!NAME.test(name)) throw new RangeError(`"${name}" is no name: small letters, digits and hyphens only`);
    return join(this.#folder, `${name}.json`);
  }

  async #readFile(file: string): Promise<ReadThing<T>> {
    try {
      const text = await readFile(join(this.#folder, file), 'utf8');
      if (text.length > LARGEST_BYTES) return { kind: 'unusable', faults: ['the file is too large'] };
      return this.#read(JSON.parse(text));
    } catch (error) {
      return { kind: 'unusable', faults: [(error as Error).message] };
    }
  }
}

/** Layouts of frames and of lines, taught or given by others, in a folder of their own. */
export function layoutFolder(folder: string): JsonFolder<Layout> {
  return new JsonFolder(folder, (data) => {
    const parsed = parseLayout(data);
    return parsed.kind === 'layout' ? { kind: 'thing', thing: parsed.layout } : parsed;
  });
}
