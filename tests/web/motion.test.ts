/** Motion and position of a phone beside the meter, by the browser's own emulation of its sensors. */
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { SessionContents, SessionListing } from '../../server/live/protocol.ts';
import { accelerationOf } from '../../web/road/motion.ts';
import { launchBrowser, openPage, type OpenPage } from '../support/browser.ts';
import { startService, type StartedService } from '../support/service.ts';

// Standard gravity is 9.80665 m/s2 (ISO 80000-3; from memory, high confidence).
describe('accelerationOf(event)', () => {
  it('is the size of the acceleration without gravity', () => {
    expect(accelerationOf({ acceleration: { x: 3, y: 0, z: 4 }, accelerationIncludingGravity: null })).toBe(5);
    expect(accelerationOf({ acceleration: null, accelerationIncludingGravity: { x: 0, y: 0, z: 9.80665 } })).toBeCloseTo(0, 9);
    expect(accelerationOf({ acceleration: { x: null, y: null, z: null }, accelerationIncludingGravity: null })).toBe(null);
  });
});

describe('a road take with a phone', () => {
  let browser: Browser;
  let service: StartedService;
  let opened: OpenPage;
  beforeAll(async () => {
    browser = await launchBrowser();
    service = await startService([]);
    opened = await openPage(browser, `${service.address}/#road`, { size: 'phone' });
    const { page } = opened;
    const devtools = await page.context().newCDPSession(page);
    for (const type of ['accelerometer', 'linear-acceleration', 'gyroscope']) {
      await devtools.send('Emulation.setSensorOverrideEnabled', { enabled: true, type: type as 'accelerometer', metadata: { available: true, minimumFrequency: 1, maximumFrequency: 60 } });
      await devtools.send('Emulation.setSensorOverrideReadings', { type: type as 'accelerometer', reading: { xyz: { x: 3, y: 0, z: 4 } } });
    }
    await page.context().grantPermissions(['geolocation', 'accelerometer', 'gyroscope']);
    await page.context().setGeolocation({ latitude: 50, longitude: 8 });
    await page.locator('.sensors').waitFor();
  });
  afterAll(async () => {
    await browser?.close();
    await service?.dispose();
  });

  it('records motion and position when its user switches them on, not before', async () => {
    const { page } = opened;
    await page.getByRole('button', { name: /Start road test/ }).click();
    await page.getByRole('button', { name: 'Lock screen' }).waitFor();
    await page.getByLabel(/Motion/).check();
    await page.getByText('5.0 m/s²').waitFor();
    await page.getByLabel(/Position/).check();
    await expect.poll(() => page.locator('.sensors').textContent()).toMatch(/Position and speed.*measured/);
    await page.context().setGeolocation({ latitude: 50.001, longitude: 8 });
    await page.waitForTimeout(1500);
    await page.getByRole('button', { name: 'Stop take' }).click();
    await page.getByRole('button', { name: /Start road test/ }).waitFor();
    const listings = (await (await fetch(`${service.address}/api/sessions`)).json()) as SessionListing[];
    const contents = (await (await fetch(`${service.address}/api/sessions/${listings[0]!.session}`)).json()) as SessionContents;
    expect(contents.meters.map((meter) => meter.label)).toEqual(expect.arrayContaining(['Acceleration', 'Latitude', 'Longitude']));
    expect(opened.troubles).toEqual([]);
  });
});
