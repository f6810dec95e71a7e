/** What is known of a meter, as a technician fills it in from the manual, saves it and hands it on. */
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { accessibilityFindings, launchBrowser, openPage, stickingOut, type OpenPage } from '../support/browser.ts';
import { Dashboard, startService, type StartedService } from '../support/service.ts';

let service: StartedService;
let browser: Browser;
let opened: OpenPage;
let dashboard: Dashboard;

beforeAll(async () => {
  service = await startService(['--meter', 'simulated:alder7?seed=8&interval=0.05']);
  dashboard = await Dashboard.open(service.address);
  browser = await launchBrowser();
  opened = await openPage(browser, `${service.address}/#meters`);
  await opened.page.getByText('What is known of the meter').click();
});
afterAll(async () => {
  await browser?.close();
  dashboard?.close();
  await service?.dispose();
});

describe('the profile of a meter', () => {
  it('takes accuracy by range as the manual prints it, and the verdict uses it from then on', async () => {
    const { page } = opened;
    await page.getByLabel(/^Largest number shown/).fill('6000');
    await page.getByRole('button', { name: 'Add a row' }).click();
    await page.getByLabel('Ranges up to').fill('six volts');
    await page.getByLabel('% of reading').first().fill('0,5');
    await page.getByLabel('plus counts').first().fill('2');
    await page.getByRole('button', { name: 'Use', exact: true }).click();
    await page.getByText(/^Row 1, Ranges up to: this can't be read/).waitFor();
    await page.getByLabel('Ranges up to').fill('6 60 600 V');
    await page.getByRole('button', { name: 'Use', exact: true }).click();
    await page.getByText('Used from now on.').waitFor();
    await dashboard.until(() => dashboard.state.meters[0]?.ranges?.length === 3, 'the ranges');
    expect(dashboard.state.meters[0]).toMatchObject({ displayCounts: 6000, ranges: [6, 60, 600].map((upTo) => ({ quantity: 'voltage', coupling: 'dc', upTo, fraction: 0.005, counts: 2 })) });
  });

  it('shows beside it what the meter shows of itself', async () => {
    await opened.page.getByText(/measured now: 50(\.\d)? ms/).waitFor();
    await opened.page.getByText(/Now one count is \S+ m?V\./).waitFor();
  });

  it('is saved as a file, and taken from one', async () => {
    const { page } = opened;
    const [download] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name: 'Save as a file' }).click()]);
    const profile = JSON.parse(readFileSync(await download.path(), 'utf8')) as Record<string, unknown>;
    expect(profile).toMatchObject({ profile: 'meter/1', displayCounts: 6000 });
    const file = join(service.recordings, 'other.json');
    writeFileSync(file, JSON.stringify({ ...profile, label: 'Workshop meter', ranges: [{ quantity: 'resistance', fraction: 0.012, counts: 3 }] }));
    await page.getByLabel('Take from a file').setInputFiles(file);
    await page.getByText(/^Read from the file/).waitFor();
    expect(await page.getByLabel('Ranges up to').inputValue()).toBe('');
    expect(await page.getByLabel('Function').inputValue()).toBe('ohm');
    await page.getByRole('button', { name: 'Use', exact: true }).click();
    await page.getByRole('heading', { name: 'Workshop meter' }).waitFor();
    await dashboard.until(() => dashboard.state.meters[0]?.ranges?.[0]?.quantity === 'resistance', 'the ranges of the file');
    writeFileSync(file, '{"profile":"meter/1","intervall":1}');
    await page.getByLabel('Take from a file').setInputFiles(file);
    await page.getByText(/does not tell what is known of a meter: .*intervall/).waitFor();
  });

  it('says which accuracy is only assumed', async () => {
    const { page } = opened;
    await page.getByRole('button', { name: 'Not known: take 1 % + 5' }).click();
    await page.getByText('assumed, not from the manual').waitFor();
    await page.getByRole('button', { name: 'Use', exact: true }).click();
    await dashboard.until(() => dashboard.state.meters[0]?.accuracy?.isAssumed === true, 'the assumption');
    expect(dashboard.state.meters[0]?.accuracy).toEqual({ fraction: 0.01, counts: 5, isAssumed: true });
  });

  it('measures the averaging time while the lead is tapped, and can be stopped', async () => {
    const { page } = opened;
    await page.getByRole('button', { name: 'Measure the averaging time' }).click();
    await page.getByText('0 edges seen.').waitFor();
    await page.getByRole('button', { name: 'Stop measuring' }).click();
    await page.getByRole('button', { name: 'Measure the averaging time' }).waitFor();
  });

  it.each(['desktop', 'phone'] as const)('has no accessibility finding and fits a %s, light and dark', async (size) => {
    for (const dark of [false, true]) {
      const { page, troubles, close } = await openPage(browser, `${service.address}/#meters`, { size, dark, calm: true });
      await page.getByText('What is known of the meter').click();
      await page.getByRole('button', { name: 'Measure the averaging time' }).click();
      await page.getByRole('button', { name: 'Add a row' }).click();
      expect(await accessibilityFindings(page)).toEqual([]);
      expect(await stickingOut(page)).toEqual([]);
      expect(troubles).toEqual([]);
      await page.getByRole('button', { name: 'Stop measuring' }).click();
      await close();
    }
    expect(opened.troubles).toEqual([]);
  });
});
