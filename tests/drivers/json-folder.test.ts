import { mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { createMeter, type FrameLayout, LAYOUTS, layoutFolder } from '../../drivers/index.ts';

const folders: string[] = [];
afterEach(async () => {
  for (const folder of folders.splice(0)) await rm(folder, { recursive: true, force: true });
});
async function newFolder(): Promise<string> {
  const folder = await mkdtemp(join(tmpdir(), 'loomtrace-layouts-'));
  folders.push(folder);
  return folder;
}
const layout = (name: string): FrameLayout => ({ ...(LAYOUTS[0] as FrameLayout), name });

describe('a folder of layouts', () => {
  it('gives back what was saved, and tells what is wrong with a file without losing the others', async () => {
    const folder = await newFolder();
    const layouts = layoutFolder(folder);
    await layouts.save(layout('bench'));
    await layouts.save(layout('pocket'));
    await writeFile(join(folder, 'broken.json'), '{');
    await writeFile(join(folder, 'other.json'), await readFile(join(folder, 'bench.json')));
    const { things, unusable } = await layouts.list();
    expect(things).toMatchObject([layout('bench'), layout('pocket')]);
    expect(unusable.map(({ file }) => file)).toEqual(['broken.json', 'other.json']);
    await layouts.remove('pocket');
    expect(await readdir(folder)).toEqual(['bench.json', 'broken.json', 'other.json']);
  });
  it('is empty where there is no folder, and refuses names that leave it', async () => {
    const layouts = layoutFolder(join(await newFolder(), 'none'));
    expect(await layouts.list()).toEqual({ things: [], unusable: [] });
    await expect(layouts.remove('../bench')).rejects.toThrow(RangeError);
    await expect(layouts.save(layout('../bench'))).rejects.toThrow(RangeError);
  });
  it('keeps layouts that a meter address can then name', async () => {
    const layouts = layoutFolder(await newFolder());
    await layouts.save(layout('mine'));
    const { things } = await layouts.list();
    expect(() => createMeter('serial:/dev/ttyUSB0?decoder=frame&layout=mine')).toThrow('write one of');
    expect(createMeter('serial:/dev/ttyUSB0?decoder=frame&layout=mine', { layouts: things }).traits.address).toContain('layout=mine');
  });
});
