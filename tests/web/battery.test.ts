/** The battery beside the take: by a second meter, or read before and after. */
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { accessibilityFindings, launchBrowser, openPage, stickingOut, type OpenPage } from '../support/browser.ts';
import { Dashboard, startService, type StartedService } from '../support/service.ts';

let browser: Browser;
let service: StartedService;
let opened: OpenPage;
let other: Dashboard;
beforeAll(async () => {
  browser = await launchBrowser();
  service = await startService(['--meter', 'simulated:alder7?seed=3', '--meter', 'simulated:alder7?seed=4']);
  other = await Dashboard.open(service.address);
  opened = await openPage(browser, service.address, { size: 'phone' });
  await opened.page.locator('.figures-value').waitFor();
  await opened.page.getByText('Battery beside the take').click();
});
afterAll(async () => {
  await browser?.close();
  await service?.dispose();
});

describe('the battery beside the take', () => {
  it('is watched by a second meter, which tells the harness from the source for every dropout', async () => {
    const { page } = opened;
    await page.getByLabel('Second meter, across the battery').selectOption({ index: 1 });
    // The demo's battery: 12.5 V (the scenario).
    await page.getByText(/^The battery reads 12\.[45]\d* V now\.$/).waitFor();
    expect(await accessibilityFindings(page)).toEqual([]);
    expect(await stickingOut(page)).toEqual([]);
    await other.ask({ type: 'start-take', check: other.state.check, watching: 'wiggle', conditionIsMet: true });
    await page.getByText(/dropouts? while the battery stayed: the harness\./).first().waitFor({ timeout: 60_000 });
    await other.ask({ type: 'stop-take' });
    await other.until(() => other.state.take === null, 'the end');
    // It stays after the take.
    expect(other.state.reference.message).toMatch(/while the battery stayed/);
    expect(other.state.reference.hasMoved).toBe(false);
  });

  it('is read before and after without one, and a source that moved is a warning', async () => {
    const { page } = opened;
    await page.getByLabel('Second meter, across the battery').selectOption({ index: 0 });
    const type = async (volts: string): Promise<void> => {
      await page.getByLabel('The battery reads now, V').fill(volts);
      await page.locator('.battery').getByRole('button', { name: 'Note it' }).click();
    };
    await type('12 volts');
    await page.getByText('Type the battery’s voltage in volts, for instance 12.6.').waitFor();
    await type('12,6');
    await other.until(() => other.state.reference.after !== null || other.state.reference.before !== null, 'the reading');
    await other.ask({ type: 'start-take', check: other.state.check, watching: 'spot' });
    await other.until(() => other.state.reference.before?.volts === 12.6, 'the reading before');
    await other.ask({ type: 'stop-take' });
    await type('11.6');
    await page.locator('.warnings').getByText(/12\.60 V before and 11\.60 V after: the source moved/).waitFor();
    expect(opened.troubles).toEqual([]);
  });
});
