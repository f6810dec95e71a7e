/**
 * A meter on a serial port of the page's own device. Chromium has no emulated serial ports, and finds no pseudo-terminals: `navigator.serial` is
 * therefore a stand-in made of the streams that the standard names. The page's code, the websocket and the service are real; the
 * browser's own Web Serial remains untried.
 */
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { launchBrowser, openPage, type OpenPage } from '../support/browser.ts';
import { Dashboard, startService, type StartedService } from '../support/service.ts';

interface StandIn { opened: object[]; signals: object[]; written: string; send(text: string): void; fault(): void; unplug(): void; canOpen: boolean; isCancelled: boolean }

/** Runs in the page. */
function standIn(): void {
  const port = {
    opened: [] as object[], signals: [] as object[], written: '', canOpen: true, isCancelled: false, readable: null as ReadableStream | null, writable: null as WritableStream | null,
    source: null as ReadableStreamDefaultController | null, isThere: true,
    open(settings: object) {
      if (!port.canOpen) return Promise.reject(new DOMException('Failed to open serial port.', 'NetworkError'));
      port.opened.push(settings);
      port.flow();
      port.writable = new WritableStream({ write: (bytes: Uint8Array) => { port.written += new TextDecoder().decode(bytes); } });
      return Promise.resolve();
    },
    flow() { port.readable = new ReadableStream({ start: (controller) => { port.source = controller; } }); },
    setSignals(signals: object) { port.signals.push(signals); return Promise.resolve(); },
    close() { port.readable = port.writable = null; return Promise.resolve(); },
    send(text: string) { port.source!.enqueue(new TextEncoder().encode(text)); },
    // A framing error ends the stream; the port has another one then.
    fault() { const { source } = port; port.flow(); source!.error(new DOMException('framing', 'FramingError')); },
    unplug() { const { source } = port; port.readable = null; source!.error(new DOMException('gone', 'NetworkError')); },
  };
  Object.assign(window, { port });
  Object.defineProperty(navigator, 'serial', {
    value: { requestPort: () => (port.isCancelled ? Promise.reject(new DOMException('No port selected by the user.', 'NotFoundError')) : Promise.resolve(port)) },
  });
}

let browser: Browser;
let service: StartedService;
let opened: OpenPage;
let other: Dashboard;
const onPort = <T>(act: (port: StandIn) => T): Promise<T> => opened.page.evaluate(`(${String(act)})(window.port)`) as Promise<T>;
const meter = () => other.state.meters.at(-1)!;
const values = () => other.frames.filter((frame) => frame.meter === meter().index).flatMap((frame) => Array.from(frame.value));

beforeAll(async () => {
  browser = await launchBrowser();
  service = await startService([]);
  other = await Dashboard.open(service.address);
  opened = await openPage(browser, `${service.address}/#meters`, { before: standIn });
});
afterAll(async () => {
  other?.close();
  await browser?.close();
  await service?.dispose();
});

describe('a serial meter of the page’s own device', () => {
  it('says what to do when nothing is chosen, a UUID is none, or the port is taken', async () => {
    const { page } = opened;
    const choose = page.getByRole('button', { name: 'Choose a serial port here' });
    await onPort((port) => { port.isCancelled = true; });
    await choose.click();
    await page.getByText(/Nothing was chosen/).waitFor();
    await onPort((port) => { port.isCancelled = false; port.canOpen = false; });
    await choose.click();
    await page.getByText(/another program or page has it open/).waitFor();
    await onPort((port) => { port.canOpen = true; });
    expect(other.state.meters).toHaveLength(1);
  });

  it('is opened with the settings that were made, read, asked, and read on after a fault on the line', async () => {
    const { page } = opened;
    const panel = page.locator('.carry-panel');
    await panel.getByText('Settings, when the usual ones don’t fit').click();
    await panel.getByLabel('Name on the screen').fill('bench');
    await page.getByLabel('How it is read').fill('poll=READ%3F&poll-every=0.1');
    await panel.getByLabel('Baud rate, from the meter’s manual').selectOption('2400');
    await page.getByLabel('Data bits, parity, stop bits').selectOption('7O1');
    await panel.locator('select[name=dtr]').selectOption('on');
    await panel.locator('select[name=rts]').selectOption('off');
    await page.getByRole('button', { name: 'Choose a serial port here' }).click();
    await page.getByText('This page carries “bench”.').waitFor();
    expect(await onPort((port) => [port.opened.at(-1), port.signals])).toEqual([
      { baudRate: 2400, dataBits: 7, parity: 'odd', stopBits: 1, bufferSize: 4096 }, [{ dataTerminalReady: true, requestToSend: false }],
    ]);
    await expect.poll(() => onPort((port) => port.written)).toContain('READ?\n');
    await onPort((port) => port.send('12.34 V DC\n'));
    await other.until(() => values().includes(12.34), 'a reading');
    await onPort((port) => port.fault());
    await page.waitForTimeout(200);
    await onPort((port) => port.send('12.50 V DC\n'));
    await other.until(() => values().includes(12.5), 'a reading after the fault');
    expect(meter().link.state).toBe('open');
  });

  it('is said on the road screen, before the drive, to need this page', async () => {
    const { page } = opened;
    await other.ask({ type: 'judge-by', meter: meter().index });
    await page.getByRole('link', { name: 'Road' }).click();
    await page.getByText(/its readings stop when that phone locks or sleeps/).waitFor();
    await page.getByRole('button', { name: /Start road test/ }).waitFor();
    await page.getByRole('link', { name: 'bench' }).click();
  });

  it('is opened again by itself when it is back, and carried on through a loss of contact with the service', async () => {
    const { page } = opened;
    await onPort((port) => { port.canOpen = false; port.unplug(); });
    await other.until(() => meter().link.state === 'gone', 'the meter to be gone');
    await onPort((port) => { port.canOpen = true; });
    await other.until(() => meter().link.state === 'open', 'the meter to be back');
    await onPort((port) => port.send('1.11 V DC\n'));
    await other.until(() => values().includes(1.11), 'a reading after it came back');
    const { index } = meter();
    const port = Number(new URL(service.address).port);
    await service.stop();
    other.close();
    await page.getByText(/what the meter sends now is lost/).waitFor();
    const again = await startService([], service.recordings, port);
    service = again;
    other = await Dashboard.open(again.address);
    // The service is a new one, and knows nothing of this meter: the page brings it back.
    await other.until(() => meter().address.startsWith('browser:bench'), 'the meter to be carried again');
    expect(meter().index).toBe(index);
    await other.until(() => meter().link.state === 'open', 'the meter to be open');
    await onPort((serial) => serial.send('2.22 V DC\n'));
    await other.until(() => values().includes(2.22), 'a reading after contact was lost');
    // While the service was away the browser complains of that.
    expect(opened.troubles.filter((trouble) => !/WebSocket|net::ERR_/.test(trouble))).toEqual([]);
  });
});
