import { afterEach, describe, expect, it } from 'vitest';
import { createMeter, type PlayedReading, type Reading } from '../../drivers/index.ts';
import { until, watchMeter } from './watch-meter.ts';

const toClose: (() => Promise<void>)[] = [];
afterEach(async () => {
  for (const close of toClose.splice(0).reverse()) await close();
});

function reading(value: number): Reading {
  return { quantity: 'voltage', coupling: 'dc', value, resolution: 0.01, flags: 0 };
}
async function* played(count: number, interval: number): AsyncIterable<PlayedReading> {
  for (let i = 0; i < count; i++) yield { time: i * interval, reading: reading(i) };
}

describe('a recording played back', () => {
  it.each([1, 5])('at %i x gives every reading in order, at its pace, and says when it is over', async (speed) => {
    const { meter, batches, values } = watchMeter(`playback:case/3?speed=${speed}`, { playback: () => played(20, 0.02) });
    toClose.push(() => meter.close());
    await until(() => meter.status().state === 'silent', 'the end');
    expect(values()).toEqual(Array.from({ length: 20 }, (_, i) => i));
    const first = batches[0]?.arrival as number;
    const elapsed = (batches.at(-1)?.arrival as number) - first;
    // Never early; how late depends on the machine.
    expect(elapsed).toBeGreaterThan((0.38 - 0.01) / speed - 0.01);
    expect(meter.status().message).toContain('played to its end');
    expect(meter.traits.simulated).toBe(true);
  });

  it('stops when closed', async () => {
    const { meter, values } = watchMeter('playback:x', { playback: () => played(1000, 0.02) });
    await until(() => values().length >= 2, 'some readings');
    await meter.close();
    const count = values().length;
    await new Promise((resolve) => setTimeout(resolve, 100));
    expect(values()).toHaveLength(count);
  });

  it('says what is wrong with a recording that cannot be read', async () => {
    // eslint-disable-next-line require-yield
    const { meter } = watchMeter('playback:x', { playback: async function* () { throw new Error('There is no take 9.'); } });
    toClose.push(() => meter.close());
    await until(() => meter.status().state === 'failed', 'the failure');
    expect(meter.status()).toMatchObject({ code: 'PLAYBACK_FAILED', message: expect.stringContaining('no take 9') });
  });

  it('is refused where nothing can be played back', () => {
    expect(() => createMeter('playback:x')).toThrow('not available');
  });
});
