/** A meter on a phone: its page forwards bytes over the websocket, and the service reads and records it like any other. */
import { afterEach, describe, expect, it } from 'vitest';
import type { WebSocket } from 'ws';
import { encodeForwardedFrame } from '../../server/live/forwarded-frame.ts';
import type { MeterRecord } from '../../server/session/session.ts';
import { Dashboard, startService } from '../support/service.ts';
import { openSocket, pairDevice, startShared } from '../support/shared-service.ts';

const cleanUp: (() => Promise<unknown> | void)[] = [];
afterEach(async () => {
  for (const clean of cleanUp.splice(0).reverse()) await clean();
});

async function begin(): Promise<{ page: Dashboard; other: Dashboard }> {
  const service = await startService([]);
  cleanUp.push(() => service.dispose());
  const open = async () => {
    const dashboard = await Dashboard.open(service.address);
    cleanUp.push(() => dashboard.close());
    return dashboard;
  };
  return { page: await open(), other: await open() };
}

const CARRIER = 'page-one-of-the-test';
const carry = (page: Dashboard, address = 'browser:pocket', carrier = CARRIER) => page.ask({ type: 'carry-meter', carrier, address });
const indexOf = async (answer: ReturnType<typeof carry>) => ((await answer) as { result: MeterRecord }).result.index;
const link = (page: Dashboard, meter: number, isConnected: boolean, reason = '') => page.ask({ type: 'meter-link', meter, isConnected, reason });
const send = (page: Dashboard, meter: number, sequence: number, text: string, at = NaN) => (
  page.socket.send(encodeForwardedFrame({ meter, sequence, at, bytes: Buffer.from(text) }))
);
const samplesOf = (page: Dashboard, meter: number) => page.frames.filter((frame) => frame.meter === meter && !frame.replace);
const valuesOf = (page: Dashboard, meter: number) => samplesOf(page, meter).flatMap((frame) => Array.from(frame.value));

describe('a meter whose bytes a page forwards', () => {
  it('is read and recorded, and dated by the page where the page knows the time', async () => {
    const { page, other } = await begin();
    const meter = await indexOf(carry(page));
    await link(page, meter, true);
    await page.ask({ type: 'judge-by', meter });
    await page.ask({ type: 'start-take', check: page.state.check, watching: 'spot' });
    const at = page.state.clock;
    send(page, meter, 0, '\n', at);
    send(page, meter, 1, '12.34 V DC\n', at);
    // A clock that is not the session's is not believed.
    await other.until(() => valuesOf(other, meter).length >= 1, 'the first reading');
    send(page, meter, 2, '12.35 V DC\n', at + 9999);
    await other.until(() => valuesOf(other, meter).length >= 2, 'the second reading');
    expect(valuesOf(other, meter)).toEqual([12.34, 12.35]);
    expect(samplesOf(other, meter).every((frame) => frame.take === 1)).toBe(true);
    const times = samplesOf(other, meter).flatMap((frame) => Array.from(frame.time));
    // Sample times are whole microseconds.
    expect(times[0]).toBeCloseTo(at, 5);
    expect(times[1]).toBeLessThan(at + 60);
  });

  it('belongs to one page: a second is refused, the same one may come back, and its end is told', async () => {
    const { page, other } = await begin();
    const meter = await indexOf(carry(page));
    await link(page, meter, true);
    expect(await carry(other, 'browser:pocket', 'another-page')).toMatchObject({ type: 'refused', code: 'CARRIED_ELSEWHERE' });
    expect(await link(other, meter, false)).toMatchObject({ type: 'refused', code: 'NOT_CARRIED' });
    send(other, meter, 0, '\n6.66 V\n');
    send(page, meter, 0, '\n1.00 V\n');
    await other.until(() => valuesOf(other, meter).length > 0, 'a reading');
    expect(valuesOf(other, meter)).toEqual([1]);
    // The page lost contact and comes back before the service has noticed.
    expect(await indexOf(carry(other))).toBe(meter);
    await link(other, meter, true);
    send(page, meter, 1, '\n9.99 V\n');
    send(other, meter, 0, '\n2.00 V\n');
    await page.until(() => valuesOf(page, meter).length > 1, 'a reading of the page that came back');
    expect(valuesOf(page, meter)).toEqual([1, 2]);
    other.close();
    await page.until(() => page.state.meters[1]?.link.state === 'gone', 'the meter to be gone');
    expect(page.state.meters[1]!.link.message).toMatch(/page that forwards this meter was closed/);
    expect(await carry(page, 'browser:pocket', 'another-page')).toMatchObject({ type: 'done', result: { index: meter } });
  });

  it('gets its questions, and no other page does', async () => {
    const { page, other } = await begin();
    const asked: [string, string][] = [];
    for (const [name, dashboard] of [['page', page], ['other', other]] as const) {
      dashboard.socket.on('message', (data, isBinary) => {
        const message = isBinary ? null : JSON.parse(String(data)) as { type: string; bytes?: string };
        if (message?.type === 'write-meter') asked.push([name, Buffer.from(message.bytes!, 'base64').toString()]);
      });
    }
    const meter = await indexOf(carry(page, 'browser:pocket?poll=READ%3F&poll-every=0.1'));
    await link(page, meter, true);
    await page.until(() => asked.length > 1, 'two questions');
    expect(new Set(asked.map((each) => each.join(' ')))).toEqual(new Set(['page READ?\n']));
  });

  it('is given up with what it sends too fast, and with anything that is no such frame', async () => {
    const { page } = await begin();
    const meter = await indexOf(carry(page));
    await link(page, meter, true);
    page.socket.send(Buffer.from([2, meter, 0]));
    page.socket.send(Buffer.alloc(50_000, 2));
    for (let n = 0; n < 200; n++) page.socket.send(encodeForwardedFrame({ meter, sequence: n, at: NaN, bytes: new Uint8Array(4096).fill(0x41) }));
    await page.until(() => (page.state.meters[1]?.counts.bytes ?? 0) > 0, 'the first bytes');
    await page.ask({ type: 'mark', text: 'x' });
    expect(page.state.meters[1]!.counts.bytes).toBeLessThan(3 * 128 * 1024);
    send(page, meter, 300, '\n3.00 V\n');
    await new Promise((resolve) => setTimeout(resolve, 300));
    send(page, meter, 301, '\n4.00 V\n');
    await page.until(() => valuesOf(page, meter).includes(4), 'a reading after that');
  });

  it('refuses addresses of other meters, and devices that may only watch', async () => {
    const service = await startShared();
    cleanUp.push(() => service.dispose());
    const page = await Dashboard.open(service.address);
    cleanUp.push(() => page.close());
    expect(await carry(page, 'serial:/dev/ttyUSB0')).toMatchObject({ type: 'refused', code: 'BAD_ADDRESS' });
    expect(await carry(page, 'browser:')).toMatchObject({ type: 'refused', code: 'BAD_ADDRESS' });
    const cookie = await pairDevice(service, 'watch');
    const answers: string[] = [];
    let socket: WebSocket | undefined;
    const { origin } = new URL(service.shared);
    await openSocket(service, { cookie, origin }, (opened) => {
      socket = opened;
      opened.on('message', (data, isBinary) => { if (!isBinary) answers.push(String(data)); });
    });
    cleanUp.push(() => socket?.terminate());
    socket!.send(JSON.stringify({ request: 7, type: 'carry-meter', carrier: CARRIER, address: 'browser:pocket' }));
    await expect.poll(() => answers.find((text) => text.includes('"request":7'))).toContain('WATCH_ONLY');
  });
});

describe('a forwarded meter that is read in another way', () => {
  it('stays with its page, which is told the new number', async () => {
    const { page, other } = await begin();
    const moved: unknown[] = [];
    page.socket.on('message', (data, isBinary) => {
      if (!isBinary && String(data).startsWith('{"type":"meter-moved"')) moved.push(JSON.parse(String(data)));
    });
    const meter = await indexOf(carry(page));
    await link(page, meter, true);
    const address = 'browser:pocket?field=2&unit=V';
    const to = ((await other.ask({ type: 'reread-meter', meter, address })) as { result: MeterRecord }).result.index;
    await page.until(() => moved.length === 1, 'the new number');
    expect(moved[0]).toEqual({ type: 'meter-moved', meter, to, address });
    await link(page, to, true);
    send(page, to, 0, '\n1;2.5\n');
    await page.until(() => valuesOf(page, to).length > 0, 'a reading');
    expect(valuesOf(page, to)).toEqual([2.5]);
  });
});
