/** The road test: started, locked, marked, left alone, reloaded in the middle, and stopped. */
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { SessionContents, SessionListing } from '../../server/live/protocol.ts';
import { accessibilityFindings, launchBrowser, openPage, readCautions, stickingOut, type OpenPage } from '../support/browser.ts';
import { startService, type StartedService } from '../support/service.ts';

let browser: Browser;
let service: StartedService;

beforeAll(async () => {
  browser = await launchBrowser();
  service = await startService(['--meter', `simulated:alder7?seed=7`]);
});
afterAll(async () => {
  await browser?.close();
  await service?.dispose();
});

/** Records what is asked of the browser's wake lock. */
function watchWakeLock(): void {
  const asked: string[] = [];
  Object.assign(window, { asked });
  const request = (kind: string) => {
    asked.push(kind);
    const lock = Object.assign(new EventTarget(), { release: () => Promise.resolve() });
    Object.assign(window, { lock });
    return Promise.resolve(lock);
  };
  Object.defineProperty(navigator, 'wakeLock', { value: { request } });
}

describe.each(['desktop', 'phone'] as const)('a road test at %s size', (size) => {
  let opened: OpenPage;
  beforeAll(async () => {
    opened = await openPage(browser, `${service.address}/#road`, { size, before: watchWakeLock });
  });
  afterAll(() => opened?.close());

  it('is dark, has cautions read once a session, among them that the driver drives, and has no accessibility findings before the start', async () => {
    const { page } = opened;
    // Cautions are read one by one, once a session, on whichever screen.
    await expect.poll(() => page.locator('.rig').count()).toBe(1);
    const read = await readCautions(page);
    if (size === 'desktop') expect(read.join()).toContain('The driver drives');
    else expect(read).toEqual([]);
    expect(await page.evaluate(() => document.documentElement.dataset['theme'])).toBe('dark');
    expect(await accessibilityFindings(page)).toEqual([]);
    expect(await stickingOut(page)).toEqual([]);
  });

  it('starts a road take, keeps the screen awake and counts marks by button, name and key', async () => {
    const { page } = opened;
    await page.getByRole('button', { name: /Start road test/ }).click();
    await page.getByRole('button', { name: /^Mark \d/ }).click();
    await page.getByRole('button', { name: 'left turn' }).click();
    await page.keyboard.press('m');
    await expect.poll(() => page.locator('.road-mark b').textContent()).toBe('3');
    await expect.poll(() => page.evaluate(() => (window as unknown as { asked: string[] }).asked)).toEqual(['screen']);
    // The browser takes the lock away when the page is hidden: it is said, and asked for again when the page is back.
    await page.evaluate(() => (window as unknown as { lock: EventTarget }).lock.dispatchEvent(new Event('release')));
    await page.getByText('Screen may go to sleep').waitFor();
    await page.evaluate(() => document.dispatchEvent(new Event('visibilitychange')));
    await page.getByText('Screen stays awake').waitFor();
    expect(await page.evaluate(() => (window as unknown as { asked: string[] }).asked)).toEqual(['screen', 'screen']);
    await expect.poll(() => page.locator('.road-states').textContent()).toMatch(/Saving, [\d.]+ [MG]B free Screen stays awake/);
    expect(await accessibilityFindings(page)).toEqual([]);
    expect(await stickingOut(page)).toEqual([]);
  });

  it('locked, it lets nothing through but marks, until the unlocking is held', async () => {
    const { page } = opened;
    await page.getByRole('button', { name: 'Lock screen' }).click();
    await expect.poll(() => page.getByRole('button', { name: 'Stop take' }).count()).toBe(0);
    await page.locator('.bar nav a').first().click({ force: true, timeout: 1000 }).catch(() => undefined);
    await page.keyboard.press('t');
    await page.getByRole('button', { name: 'Hold to unlock' }).click();
    await page.waitForTimeout(300);
    expect(new URL(page.url()).hash).toBe('#road');
    await page.getByRole('button', { name: /^Mark \d/ }).click();
    await expect.poll(() => page.locator('.road-mark b').textContent()).toBe('4');
    await page.getByRole('button', { name: 'Hold to unlock' }).click({ delay: 1500 });
    await page.getByRole('button', { name: 'Stop take' }).waitFor();
  });

  it('goes on through a reload of the page, because the service records', async () => {
    const { page } = opened;
    await page.reload();
    await expect.poll(() => page.locator('.road-mark b').textContent()).toBe('4');
    await page.getByRole('button', { name: 'Stop take' }).click();
    await page.getByRole('button', { name: /Start road test/ }).waitFor();
    const listings = (await (await fetch(`${service.address}/api/sessions`)).json()) as SessionListing[];
    const contents = (await (await fetch(`${service.address}/api/sessions/${listings[0]!.session}`)).json()) as SessionContents;
    const take = contents.takes.at(-1)!;
    expect(take.watching).toBe('road');
    expect(contents.marks.filter((mark) => mark.take === take.id).map((mark) => mark.text)).toEqual(['mark', 'left turn', 'mark', 'mark']);
    expect(opened.troubles).toEqual([]);
  });
});
