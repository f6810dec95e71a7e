/** A meter on the page's own device, by the browser's real Web Bluetooth over its emulated adapter. */
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { SessionContents, SessionListing } from '../../server/live/protocol.ts';
import { emulateMeter, keepSubscribed, type EmulatedMeter } from '../support/bluetooth.ts';
import { accessibilityFindings, launchBrowser, openPage, stickingOut, type OpenPage } from '../support/browser.ts';
import { Dashboard, startService, type StartedService } from '../support/service.ts';

let browser: Browser;
let service: StartedService;
let opened: OpenPage;
let other: Dashboard;
let meter: EmulatedMeter;
const index = () => other.state.meters.at(-1)!.index;
const values = () => other.frames.filter((frame) => frame.meter === index()).flatMap((frame) => Array.from(frame.value));

beforeAll(async () => {
  browser = await launchBrowser(['--enable-blink-features=WebBluetooth']);
  service = await startService([]);
  other = await Dashboard.open(service.address);
  opened = await openPage(browser, `${service.address}/#meters`, { before: keepSubscribed });
  // Service and characteristic of the 16-bit serial convention, see web/carry/uart-services.ts.
  meter = await emulateMeter(browser, opened.page, 'Pocket meter', '0000ffe0-0000-1000-8000-00805f9b34fb', '0000ffe1-0000-1000-8000-00805f9b34fb');
});
afterAll(async () => {
  other?.close();
  await browser?.close();
  await service?.dispose();
});

describe('a Bluetooth meter of the page’s own device', () => {
  it('is chosen, connected and read, and the page says that it carries it', async () => {
    const { page } = opened;
    await page.getByRole('button', { name: 'Choose a Bluetooth meter' }).click();
    await page.getByText('This page carries “Pocket meter”.').waitFor();
    await other.until(() => other.state.meters.at(-1)!.address === 'browser:Pocket%20meter', 'the meter');
    expect(other.state.meters.at(-1)!.label).toBe('Pocket meter');
    await meter.send('\n12.3');
    await meter.send('4 V DC\n');
    await other.until(() => values().includes(12.34), 'the reading, joined from two values');
    expect(await accessibilityFindings(page)).toEqual([]);
    expect(await stickingOut(page)).toEqual([]);
  });

  it('is recorded; when the link breaks the gap is too, and it reconnects by itself', async () => {
    const { page } = opened;
    await other.ask({ type: 'judge-by', meter: index() });
    await other.ask({ type: 'start-take', check: other.state.check, watching: 'spot' });
    const send = async (from: number) => {
      for (let n = 0; n < 12; n++) {
        await meter.send(`${(from + n / 100).toFixed(2)} V DC\n`);
        await page.waitForTimeout(60);
      }
    };
    await send(12);
    meter.setReachable(false);
    await meter.drop();
    await other.until(() => other.state.meters.at(-1)!.link.state === 'gone', 'the meter to be gone');
    expect(other.state.meters.at(-1)!.link.message).toContain('“Pocket meter” is lost');
    await page.getByText(/link to “Pocket meter” is lost/).first().waitFor();
    meter.setReachable(true);
    await other.until(() => other.state.meters.at(-1)!.link.state === 'open', 'the meter to be back');
    await expect.poll(() => meter.connections()).toBeGreaterThan(1);
    await page.waitForTimeout(500);
    // Half a line from before the break is joined to nothing.
    await meter.send('9.99 V\n');
    await send(13);
    await other.until(() => values().some((value) => value > 13.1), 'readings after the break');
    await other.ask({ type: 'stop-take' });
    await other.ask({ type: 'new-session' });
    const [{ session }] = (await (await fetch(`${service.address}/api/sessions`)).json()) as [SessionListing];
    const { takes, meters } = (await (await fetch(`${service.address}/api/sessions/${session}`)).json()) as SessionContents;
    expect(meters.map(({ label }) => label)).toContain('Pocket meter');
    expect(takes[0]!.judgement!.gaps.length).toBeGreaterThan(0);
    expect(values().filter((value) => value > 9 && value < 10)).toEqual([]);
  });

  it('is asked through the page when it must be asked', async () => {
    const { page } = opened;
    await other.ask({ type: 'reread-meter', meter: index(), address: 'browser:Pocket%20meter?poll=READ%3F&poll-every=0.2' });
    await expect.poll(() => meter.written.join('')).toContain('READ?\n');
    await meter.send('1.25 kOhm\n');
    await other.until(() => values().includes(1250), 'the answer');
    await page.getByText('This page carries “Pocket meter”.').waitFor();
  });

  it('is given back when it is let go of on any screen', async () => {
    const { page } = opened;
    await other.ask({ type: 'detach-meter', meter: index() });
    await page.getByText('This page carries “Pocket meter”.').waitFor({ state: 'detached' });
    expect(opened.troubles).toEqual([]);
  });
});

describe('where the browser has no Web Bluetooth', () => {
  it('says so and what to do, and offers nothing that can’t work', async () => {
    const plain = await launchBrowser();
    try {
      const { page } = await openPage(plain, `${service.address}/#meters`);
      await page.getByText(/this browser has no Web Bluetooth/).waitFor();
      expect(await page.getByRole('button', { name: 'Choose a Bluetooth meter' }).isDisabled()).toBe(true);
    } finally {
      await plain.close();
    }
  });
});
