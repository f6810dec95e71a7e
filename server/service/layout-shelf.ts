/** The user's own layouts: a folder of files that can be shared, held ready for attaching a meter. */
import { LAYOUTS, layoutFolder, parseLayout, type FolderContents, type JsonFolder, type Layout } from '../../drivers/index.ts';
import { RequestRefused } from '../live/index.ts';
import type { LayoutList } from '../live/protocol.ts';

export class LayoutShelf {
  readonly #folder: JsonFolder<Layout>;
  #contents: FolderContents<Layout>;

  private constructor(folder: JsonFolder<Layout>, contents: FolderContents<Layout>) {
    this.#folder = folder;
    this.#contents = contents;
  }

  static async open(folder: string): Promise<LayoutShelf> {
    const files = layoutFolder(folder);
    return new LayoutShelf(files, await files.list());
  }

  /** Ready for attaching: without reading a file. */
  all(): readonly Layout[] {
    return this.#contents.things;
  }

  /** As the folder is now: somebody may have put a file there. */
  async list(): Promise<LayoutList> {
    this.#contents = await this.#folder.list();
    const { things, unusable } = this.#contents;
    return { layouts: things.map(({ name, layout, origin, description }) => ({ name, kind: layout, origin, description })), unusable };
  }

  /** @throws {RequestRefused} NO_SUCH_LAYOUT */
  read(name: string): Layout {
    const layout = this.all().find((each) => each.name === name);
    if (layout === undefined) throw new RequestRefused('NO_SUCH_LAYOUT', `There is no layout "${name}".`);
    return layout;
  }

  /** @throws {RequestRefused} BAD_LAYOUT, LAYOUT_EXISTS, LAYOUT_NOT_SAVED, saying what to do */
  async save(data: unknown): Promise<Layout> {
    const parsed = parseLayout(data);
    if (parsed.kind === 'unusable') {
      const more = parsed.faults.length - 1;
      throw new RequestRefused('BAD_LAYOUT', `This is no layout that can be used: ${parsed.faults[0]}${more > 0 ? `, and ${more} more to mend` : ''}.`);
    }
    const { layout } = parsed;
    this.#contents = await this.#folder.list();
    const isTaken = [...this.all(), ...LAYOUTS].some(({ name }) => name === layout.name);
    if (isTaken) throw new RequestRefused('LAYOUT_EXISTS', `There is a layout "${layout.name}" already: give this one another name, or remove that one first.`);
    try {
      await this.#folder.save(layout);
    } catch (error) {
      throw new RequestRefused('LAYOUT_NOT_SAVED', `The layout could not be saved: ${(error as Error).message}.`, { cause: error });
    }
    this.#contents = await this.#folder.list();
    return layout;
  }

  /** @param addresses  of the meters that are read now @throws {RequestRefused} NO_SUCH_LAYOUT, LAYOUT_IN_USE */
  async remove(name: string, addresses: readonly string[]): Promise<void> {
    this.read(name);
    if (addresses.some((address) => address.split(/[?&]/).includes(`layout=${name}`))) {
      throw new RequestRefused('LAYOUT_IN_USE', `A meter is read by the layout "${name}": let go of the meter first.`);
    }
    await this.#folder.remove(name);
    this.#contents = await this.#folder.list();
  }
}
