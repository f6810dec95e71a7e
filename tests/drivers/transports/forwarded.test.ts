import { afterEach, describe, expect, it } from 'vitest';
import { createMeter, type ForwardedMeter, isForwardedMeter } from '../../../drivers/index.ts';
import { until, type WatchedMeter, watchMeter } from '../watch-meter.ts';

const toClose: (() => Promise<void>)[] = [];
afterEach(async () => {
  for (const close of toClose.splice(0).reverse()) await close();
});

function forwarded(query = ''): WatchedMeter & { meter: ForwardedMeter } {
  const meter = createMeter(`browser:pocket${query}`);
  if (!isForwardedMeter(meter)) throw new Error('not forwarded');
  toClose.push(() => meter.close());
  return { ...watchMeter(meter), meter };
}
const bytes = (text: string): Uint8Array => Buffer.from(text, 'latin1');

describe('a meter whose bytes a browser forwards', () => {
  it('waits for the browser, then reads what it forwards with the time it was given', async () => {
    const { meter, batches, statuses } = forwarded();
    await until(() => statuses.length === 1, 'the first status');
    expect(meter.status()).toMatchObject({ state: 'retry', message: expect.stringContaining('choose it there') });
    meter.link.connected();
    expect(meter.status().state).toBe('open');
    meter.link.receive(0, bytes('\n12.3'), 100.5);
    meter.link.receive(1, bytes('4 V\n'), 100.7);
    expect(batches).toMatchObject([{ arrival: 100.7, readings: [{ value: 12.34 }] }]);
  });

  it('drops a repeated chunk and joins nothing across a missing one', () => {
    const { meter, values } = forwarded();
    meter.link.connected();
    meter.link.receive(0, bytes('\n1 V\n2'), 1);
    meter.link.receive(0, bytes('\n1 V\n2'), 1);
    meter.link.receive(1, bytes('2 V\n3'), 2);
    meter.link.receive(3, bytes('33 V\n4 V\n'), 3);
    expect(values()).toEqual([1, 22, 4]);
  });

  it('says gone when the meter goes, and reads on when it is back, joining nothing', () => {
    const { meter, values } = forwarded();
    meter.link.connected();
    meter.link.receive(0, bytes('\n1 V\n2'), 1);
    meter.link.disconnected('');
    expect(meter.status()).toMatchObject({ state: 'gone', code: 'PORT_GONE' });
    meter.link.receive(1, bytes('2 V\n'), 2);
    meter.link.connected();
    meter.link.receive(0, bytes('9 V\n3 V\n'), 3);
    expect(values()).toEqual([1, 3]);
  });

  it('passes questions on to the browser, and keeps none for later', async () => {
    const { meter } = forwarded('?poll=READ%3F&poll-every=0.05');
    const asked: string[] = [];
    await new Promise((resolve) => setTimeout(resolve, 120));
    meter.link.onWrite = (question) => void asked.push(Buffer.from(question).toString());
    expect(asked).toEqual([]);
    meter.link.connected();
    await until(() => asked.length >= 2, 'two questions');
    expect(asked[0]).toBe('READ?\n');
  });
});
