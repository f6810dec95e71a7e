import { afterEach, describe, expect, it } from 'vitest';
import { Library } from '../../server/recordings/index.ts';
import { manyMeters, offsetOf } from '../support/many-meters.ts';
import { Dashboard, startService } from '../support/service.ts';

const cleanUp: (() => Promise<unknown> | void)[] = [];
afterEach(async () => {
  for (const clean of cleanUp.splice(0).reverse()) await clean();
});

const INTERVALS = [0.1, 0.5, 0.4, 0.25, 0.2, 0.05, 0.02, 0.01];
/** Samples of the first meter that never arrive. */
const LOST = { from: 30, to: 40 };

describe('eight meters at once', () => {
  it('are recorded on one axis of time, whatever the pace of each, and what one of them loses is a gap', async () => {
    const bench = await manyMeters(INTERVALS);
    cleanUp.push(() => bench.close());
    const service = await startService(bench.meters.flatMap(({ pty }) => ['--meter', `serial:${pty.path}?accuracy=1%25+2`]));
    cleanUp.push(() => service.dispose());
    const dashboard = await Dashboard.open(service.address);
    cleanUp.push(() => dashboard.close());
    await dashboard.until(() => dashboard.state.meters.filter(({ link }) => link.state === 'open').length === 8, 'all ports to open');
    await dashboard.ask({ type: 'start-take', check: { ...dashboard.state.check, kind: 'sensor-sweep', limits: { low: null, high: null } }, watching: 'wiggle' });
    bench.lose(0, LOST.from, LOST.to);
    bench.start();
    await new Promise((resolve) => setTimeout(resolve, 8_000));
    await dashboard.ask({ type: 'stop-take' });

    const library = Library.open({ folder: service.recordings });
    cleanUp.push(() => library.close());
    const session = (await library.list())[0]!.session;
    const stored = await Promise.all(INTERVALS.map((_, meter) => library.samples(session, 1, meter)));
    const offsets = bench.meters.map((meter, i) => {
      const { value, time } = stored[i]!;
      // Every reading once, in order, but for those that were lost.
      const numbers = Array.from(value);
      const expected = Array.from({ length: (numbers.at(-1) as number) + 1 }, (_, number) => number).filter((number) => i !== 0 || number < LOST.from || number >= LOST.to);
      // The first line after the opening of a port may be half a line.
      expect(numbers).toEqual(expected.slice(expected.length - numbers.length));
      expect(numbers.length).toBeGreaterThanOrEqual(expected.length - 1);
      return offsetOf(meter, time, value);
    });
    const middle = [...offsets].sort((a, b) => a - b)[4] as number;
    // One origin for all. How well they agree is for the bench of links to say: here the machine may stall any of them.
    offsets.forEach((offset, i) => expect(Math.abs(offset - middle), `meter ${i}`).toBeLessThan(1));

    const { gaps } = (await library.contents(session)).takes[0]!.judgement;
    const lostAt = bench.meters[0]!.trueTime((LOST.from + LOST.to) / 2) + (offsets[0] as number);
    const gap = gaps.find(({ start, end }) => start < lostAt && end > lostAt);
    expect(gap).toBeDefined();
    // Ten readings of 0.1 s are missing.
    expect(gap!.end - gap!.start).toBeGreaterThan(0.8);
  });
});
