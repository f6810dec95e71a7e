/** From nothing: no form before the first reading, a way on when there is no meter, and what is known added later. */
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Chart } from '../../server/session/chart.ts';
import { accessibilityFindings, launchBrowser, openPage, type OpenPage } from '../support/browser.ts';
import { Dashboard, startService, type StartedService } from '../support/service.ts';

let browser: Browser;
let service: StartedService;
let opened: OpenPage;
let other: Dashboard;

beforeAll(async () => {
  browser = await launchBrowser();
  service = await startService([]);
  other = await Dashboard.open(service.address);
  opened = await openPage(browser, service.address);
});
afterAll(async () => {
  other?.close();
  await browser?.close();
  await service?.dispose();
});

describe('the first use', () => {
  it('begins with a reading and a take, without any form', async () => {
    const { page } = opened;
    await page.locator('.figures-value').waitFor();
    await page.getByRole('button', { name: /Start take/ }).click();
    await page.getByRole('button', { name: /Stop take/ }).click();
    await page.getByRole('button', { name: /Start take/ }).waitFor();
  });

  it('lets what is known of the session be added later, and does not overwrite what somebody else wrote', async () => {
    const { page } = opened;
    await page.getByRole('button', { name: /^Session/ }).click();
    await page.getByLabel('Vehicle or machine').fill('Alder 7');
    await page.getByLabel('Trouble codes').fill('P0562, P0123');
    await page.getByLabel(/Ambient temperature/).fill('12,5');
    await page.getByRole('button', { name: 'Save', exact: true }).click();
    await page.getByText('Saved.').waitFor();
    await other.until(() => other.state.session.vehicle === 'Alder 7', 'the vehicle');
    expect(other.state.session).toMatchObject({ codes: ['P0562', 'P0123'], ambient: 12.5 });
    await other.ask({ type: 'describe', basedOn: other.state.sessionRevision, vehicle: 'Alder 8' });
    await page.getByLabel('Complaint').fill('lamp dies');
    await page.getByRole('button', { name: 'Save', exact: true }).click();
    await other.until(() => other.state.session.complaint === 'lamp dies', 'the complaint');
    expect(other.state.session.vehicle).toBe('Alder 8');
    await expect.poll(() => page.getByLabel('Vehicle or machine').inputValue()).toBe('Alder 8');
    // The same written by both: it is said, in the dialog that covers the page, and one of them chosen.
    await other.ask({ type: 'describe', basedOn: other.state.sessionRevision, vehicle: 'Alder 10' });
    await page.getByLabel('Vehicle or machine').fill('Alder 9');
    await page.getByRole('button', { name: 'Save', exact: true }).click();
    await page.locator('dialog').getByText('Vehicle or machine: Alder 10').waitFor();
    expect(other.state.session.vehicle).toBe('Alder 10');
    expect(await accessibilityFindings(page)).toEqual([]);
    await page.getByRole('button', { name: 'Save mine instead' }).click();
    await other.until(() => other.state.session.vehicle === 'Alder 9', 'the vehicle');
    await page.getByRole('button', { name: 'Close' }).click();
  });

  it('lists the meters used, and asks before a chart that somebody typed is put away', async () => {
    const { page } = opened;
    const chartNow = (): Promise<{ revision: number; chart: Chart }> => other.ask({ type: 'read-chart' }).then((answer) => (answer.type === 'done' ? answer.result : null) as { revision: number; chart: Chart });
    const { revision, chart } = await chartNow();
    await other.ask({ type: 'change-chart', basedOn: revision, chart: { ...chart, name: 'typed by hand' } });
    await page.getByRole('button', { name: /^Session/ }).click();
    await page.getByText('simulated meter · takes are judged by it').waitFor();
    expect(await accessibilityFindings(page)).toEqual([]);
    const before = other.state.session.id;
    await page.getByRole('button', { name: 'New session' }).click();
    await page.getByRole('button', { name: 'Yes, keep the chart' }).click();
    await other.until(() => other.state.session.id !== before, 'the new session');
    expect(other.state.chart).toMatchObject({ name: 'typed by hand', isOwn: true });
    await page.getByRole('button', { name: /^Session/ }).click();
    await page.getByRole('button', { name: 'New session' }).click();
    await page.getByRole('button', { name: 'No, put the chart away' }).click();
    await other.until(() => !other.state.chart.isOwn, 'the chart of the demo');
    expect((await chartNow()).chart).toEqual(chart);
  });

  it('notes a connector that was taken apart, for everybody', async () => {
    const { page } = opened;
    await page.getByLabel(/connector was taken apart/).fill('C2');
    await page.getByRole('button', { name: 'Note it' }).click();
    await page.getByText('Reseated: C2.').waitFor();
    await other.until(() => other.state.reseats[0]?.connector === 'C2', 'the connector');
  });

  it('leads on to a meter when there is none', async () => {
    const { page } = opened;
    await other.ask({ type: 'detach-meter', meter: 0 });
    await page.locator('.figures').getByText('no meter').waitFor();
    expect(await accessibilityFindings(page)).toEqual([]);
    await page.getByRole('link', { name: 'Attach a meter' }).click();
    expect(new URL(page.url()).hash).toBe('#meters');
  });

  it('asks for the voltage of the system where no chart tells it, and limits follow', async () => {
    const { page } = opened;
    await page.getByRole('link', { name: 'Watch' }).click();
    await page.getByRole('button', { name: /^Session/ }).click();
    await page.getByLabel('System voltage').selectOption('24 V');
    await page.getByRole('button', { name: 'Save', exact: true }).click();
    await page.getByText('Saved.').waitFor();
    await page.getByRole('button', { name: 'Close' }).click();
    await page.getByRole('button', { name: 'Change check' }).click();
    // Twice of 12.2 V at rest less 0.5 V: common practice, no source.
    await page.locator('.check-list button').filter({ hasText: /^Supply/ }).getByText('not below 23.4 V').waitFor();
  });

  it('lets a limit be changed for every check of its kind, and that be taken back', async () => {
    const { page } = opened;
    const supply = page.locator('.check-list button').filter({ hasText: /^Supply/ });
    await supply.click();
    await page.getByRole('button', { name: 'Change check' }).click();
    await page.getByLabel('Red lead on').fill('X1');
    await page.getByLabel('Not below, V').fill('25');
    await page.getByLabel('These limits for every check of this kind').check();
    await page.getByRole('button', { name: 'Use this check' }).click();
    await other.until(() => other.state.check.red === 'X1' && other.state.check.limits.low === 25, 'the limit');
    await page.getByRole('button', { name: 'Change check' }).click();
    await supply.getByText('not below 25 V').waitFor();
    await page.getByText('Supply: not below 25 V, changed by you for this session').waitFor();
    expect(await accessibilityFindings(page)).toEqual([]);
    await page.getByRole('button', { name: 'Take the change back' }).click();
    await supply.getByText('not below 23.4 V').waitFor();
    await other.until(() => other.state.ownLimits.length === 0, 'the change taken back');
    expect(opened.troubles).toEqual([]);
  });
});
