import { afterEach, describe, expect, it } from 'vitest';
import { Library } from '../../server/recordings/index.ts';
import type { MeterRecord } from '../../server/session/session.ts';
import { Dashboard, startService } from '../support/service.ts';

const cleanUp: (() => Promise<unknown> | void)[] = [];
afterEach(async () => {
  for (const clean of cleanUp.splice(0).reverse()) await clean();
});

describe('a recorded take played back as a meter', () => {
  it('gives the same readings again, judged alike at its own pace and not at all when faster', async () => {
    const service = await startService(['--meter', 'simulated:alder7?seed=5&interval=0.05']);
    cleanUp.push(() => service.dispose());
    const dashboard = await Dashboard.open(service.address);
    cleanUp.push(() => dashboard.close());
    const { check } = dashboard.state;
    await dashboard.ask({ type: 'describe-meter', meter: 0, ranges: [{ quantity: 'voltage', coupling: null, upTo: 60, fraction: 0.004, counts: 3 }], displayCounts: 6000 });
    const record = async (meter: number, readings: number): Promise<void> => {
      await dashboard.ask({ type: 'judge-by', meter });
      await dashboard.ask({ type: 'start-take', check, watching: 'spot', conditionIsMet: true });
      await dashboard.until(() => (dashboard.judgement?.judgement.samples ?? 0) >= readings && dashboard.judgement?.take === dashboard.state.take?.id, 'the readings');
      await dashboard.ask({ type: 'stop-take' });
      await dashboard.until(() => dashboard.state.ended[0]?.take.meter === meter, 'the take to end');
    };
    await record(0, 60);
    const session = dashboard.state.recording.file!.replace(/\.sqlite$/, '');
    const library = Library.open({ folder: service.recordings });
    cleanUp.push(() => library.close());
    const original = await library.samples(session, 1, 0);

    expect(await dashboard.ask({ type: 'play-take', session, take: 9, speed: 1 })).toMatchObject({ type: 'refused', code: 'NO_SUCH_TAKE' });
    const before = (await library.contents(session)).takes[0]!.judgement;
    expect(before.verdict).not.toBe('undecided');
    for (const [speed, verdict] of [[1, before.verdict], [5, 'undecided']] as const) {
      const { result } = (await dashboard.ask({ type: 'play-take', session, take: 1, speed })) as { result: MeterRecord };
      expect(result).toMatchObject({ playedAt: speed, simulated: true, displayCounts: 6000, ranges: [{ upTo: 60 }], interval: 0.05 / speed });
      await record(result.index, 40);
      const taken = dashboard.state.ended[0]!.take.id;
      // The file follows a moment after.
      await expect.poll(async () => (await library.contents(session)).takes.find(({ id }) => id === taken)?.end ?? null).not.toBeNull();
      const played = await library.samples(session, taken, result.index);
      const first = original.value.findIndex((_, i) => played.value.slice(0, 10).every((value, j) => Object.is(original.value[i + j], value)));
      expect(first).toBeGreaterThanOrEqual(0);
      expect(played.length).toBeGreaterThanOrEqual(40);
      expect([...played.value]).toEqual([...original.value.slice(first, first + played.length)]);
      expect([...played.resolution]).toEqual([...original.resolution.slice(first, first + played.length)]);
      const { judgement } = (await library.contents(session)).takes.find(({ id }) => id === taken)!;
      expect(judgement.verdict).toBe(verdict);
      if (speed > 1) expect(judgement.reasons[0]).toMatch(/^Played back 5 times as fast as it was: for looking at/);
      await dashboard.until(() => dashboard.state.meters.find(({ index }) => index === result.index)?.link.message === 'The recording has been played to its end.', 'the end');
    }
  });
});
