/** A road take with marks, and what its review says about marks and dropouts. */
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { launchBrowser, openPage } from '../support/browser.ts';
import { Dashboard, startService, type StartedService } from '../support/service.ts';

let browser: Browser;
let service: StartedService;
beforeAll(async () => {
  browser = await launchBrowser();
  service = await startService(['--meter', 'simulated:alder7?seed=11']);
});
afterAll(async () => {
  await browser?.close();
  await service?.dispose();
});

it('the review of a road take says whether its dropouts go with each kind of mark', async () => {
  const dashboard = await Dashboard.open(service.address);
  await dashboard.until(() => dashboard.values().length > 20, 'readings');
  expect(await dashboard.ask({ type: 'start-take', check: dashboard.state.check, watching: 'road' })).toMatchObject({ type: 'done' });
  await dashboard.until(() => (dashboard.judgement?.judgement.dropouts.length ?? 0) >= 1, 'a dropout', 60_000);
  for (const text of ['bump', 'left turn', 'bump']) expect(await dashboard.ask({ type: 'mark', text })).toMatchObject({ type: 'done' });
  expect(await dashboard.ask({ type: 'stop-take' })).toMatchObject({ type: 'done' });
  dashboard.close();

  const { page, close } = await openPage(browser, `${service.address}/#review`, { size: 'desktop' });
  try {
    await page.locator('.review-sessions a').first().click();
    await page.locator('.review-takes .rows a').first().click();
    const findings = page.locator('.mark-findings li');
    await expect.poll(() => findings.count()).toBe(2);
    const text = (await findings.allTextContents()).join('\n');
    expect(text).toMatch(/\d+ of \d+ separate dropouts? began near 2 marks of "bump": too few to tell/);
    expect(text).toContain('1 mark of "left turn"');
  } finally {
    await close();
  }
});
