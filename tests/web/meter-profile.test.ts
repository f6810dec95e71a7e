/** What is known of a meter, as a technician fills it in from the manual, saves it and hands it on. */
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { accessibilityFindings, launchBrowser, openPage, stickingOut, type OpenPage } from '../support/browser.ts';
import { openPty } from '../support/pty.ts';
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

it('measures the averaging time of a meter on a port by real taps, says when they are too short, and takes the figure into the form', async () => {
  const port = await openPty();
  await dashboard.ask({ type: 'attach-meter', address: `serial:${port.path}?baud=9600` });
  const { page, troubles, close } = await openPage(browser, `${service.address}/#meters`, { size: 'phone' });
  const card = page.locator('.meter-card').filter({ hasText: port.path });
  // One reading each 20 ms, the mean of the last 15 ms; the lead changes sides in the middle of that in each other edge.
  let sent = 0;
  const begun = performance.now();
  const send = async (volts: number): Promise<void> => {
    await new Promise((resolve) => setTimeout(resolve, begun + 20 * ++sent - performance.now()));
    await port.write(`${(volts + (sent % 3) / 1000).toFixed(3)} V DC\r\n`);
  };
  const stay = async (volts: number, readings: number): Promise<void> => { for (let k = 0; k < readings; k++) await send(volts); };
  const tap = async (readings: number): Promise<void> => {
    await stay(6.2, 1);
    await stay(0, readings);
    await stay(12.4, readings);
  };
  await stay(12.4, 30);
  await card.getByText('What is known of the meter').click();
  await card.getByRole('button', { name: 'Measure the averaging time' }).click();
  await card.getByText('0 edges seen.').waitFor();
  while ((await card.getByText(/^Most taps are too short to count/).count()) === 0) await tap(1);
  await card.getByRole('button', { name: 'Stop measuring' }).click();
  await card.getByRole('button', { name: 'Measure the averaging time' }).click();
  while (!(await card.getByRole('button', { name: 'Take this figure' }).isEnabled())) await tap(5);
  const [, estimate] = /averages over ([\d.]+) ms/.exec((await card.locator('.tapping').textContent()) ?? '') as RegExpExecArray;
  // Half of the edges fall into the aperture, as the share of it in the interval would have it; a margin at both of its ends is not seen.
  expect(Number(estimate)).toBeGreaterThan(6);
  expect(Number(estimate)).toBeLessThan(15);
  expect(await stickingOut(page)).toEqual([]);
  await card.getByRole('button', { name: 'Take this figure' }).click();
  await expect.poll(() => card.getByLabel('Time over which it averages, s').inputValue()).toMatch(/^0\.0\d+$/);
  expect(troubles).toEqual([]);
  await close();
  await port.close();
});
