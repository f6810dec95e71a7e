import { describe, expect, it } from 'vitest';
import { Library } from '../../server/recordings/index.ts';
import { freshFolder } from './support/folder.ts';
import { recordAndKill } from './support/kill.ts';

describe('a session whose service was killed', () => {
  it('is listed as complete up to the interruption, its open take as interrupted, judged from its samples', async () => {
    const folder = freshFolder();
    const left = await recordAndKill({ folder, meters: 1, batch: 10, everyMs: 10, takeLength: 1e9, killAfterMs: 700 });
    const library = Library.open({ folder });
    // For ten seconds after its last sign of life a session counts as being recorded.
    await expect.poll(async () => (await library.list())[0]?.state, { timeout: 60_000, interval: 250 }).toBe('complete');
    const [listing] = await library.list();
    expect(listing!.message).toContain('interrupted');
    const { takes } = await library.contents(listing!.session);
    const [open, ...others] = takes;
    if (open === undefined) expect.fail('no take');
    expect(others).toEqual([]);
    expect(open.ending).toBe('interrupted');
    expect(open.samples).toBe(open.judgement.samples);
    expect(open.samples).toBe(left.stored);
    expect(open.end).toBeCloseTo(left.stored / 1000, 6);
    await library.close();
  });

  it('of a name that no session can have, nothing is read', async () => {
    const library = Library.open({ folder: freshFolder() });
    for (const name of ['../secret', '..', 'a/b', 'a\\b', '', '.hidden', 'x'.repeat(200), 'nul\0', 'a..b']) {
      await expect(library.contents(name)).rejects.toMatchObject({ code: 'SESSION_BAD_NAME' });
    }
    await expect(library.contents('2026-01-01-000000')).rejects.toMatchObject({ code: 'SESSION_NOT_FOUND' });
    await library.close();
  });
});
