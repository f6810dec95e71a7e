/** Wiggle-testing a harness from the proof of the leads to the zone that is the source, by hand and eye on the screen. */
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { SessionContents, SessionListing } from '../../server/live/protocol.ts';
import { accessibilityFindings, launchBrowser, openPage, sidewaysOverflow, type OpenPage } from '../support/browser.ts';
import { startService, type StartedService } from '../support/service.ts';

let browser: Browser;
let service: StartedService;
let opened: OpenPage;

beforeAll(async () => {
  browser = await launchBrowser();
  service = await startService(['--meter', `simulated:alder7?seed=${Date.now() % 100_000}`]);
  opened = await openPage(browser, service.address);
  await opened.page.locator('.figures-value').waitFor();
  await opened.page.getByRole('radio', { name: 'Wiggle' }).check();
});
afterAll(async () => {
  await browser?.close();
  await service?.dispose();
});

const fault = (label: RegExp) => opened.page.getByLabel('What is wrong with it').evaluate((select: HTMLSelectElement, source) => {
  const wanted = [...select.options].find((option) => new RegExp(source).test(option.text))!;
  select.value = wanted.value;
  select.dispatchEvent(new Event('change', { bubbles: true }));
}, label.source);

describe('the proof of the leads', () => {
  it('is asked for first, runs by itself for ten seconds, and goes back to the check', async () => {
    const { page } = opened;
    await fault(/No fault/);
    await page.getByText(/The leads are not proved/).waitFor();
    await page.getByRole('button', { name: 'Prove the leads' }).click();
    await page.locator('.proof-left').waitFor();
    expect(await page.locator('h1').textContent()).toContain('harness still, leads tugged');
    expect(await accessibilityFindings(page)).toEqual([]);
    await page.getByText('The leads are proved.').waitFor({ timeout: 15_000 });
    expect(await page.locator('h1').textContent()).toContain('key on');
    expect(await page.getByRole('button', { name: /Start take/ }).count()).toBe(1);
  });
});

describe('the zones', () => {
  it('are named in order along the harness', async () => {
    const { page } = opened;
    await page.getByRole('button', { name: 'Name zones' }).click();
    await page.getByRole('textbox').fill('near C2\nalong the arm\nnear G2');
    await page.getByRole('button', { name: 'Use', exact: true }).click();
    expect(await page.locator('.zone-name').allTextContents()).toEqual(['near C2', 'along the arm', 'near G2']);
  });

  it('take the dropouts that fall while they are flexed, by touch and by key, and ask for another proof', async () => {
    const { page } = opened;
    await fault(/good at rest/);
    await page.getByRole('button', { name: /Start take/ }).click();
    await page.getByRole('button', { name: /near C2/ }).click();
    await expect.poll(() => page.locator('.zones button').first().getAttribute('aria-pressed')).toBe('true');
    await expect.poll(() => page.locator('.watch .verdict-count strong').textContent(), { timeout: 30_000 }).toBe('1');
    // Longer than the reaction lag, within which a change of zone is dated back.
    await page.waitForTimeout(2500);
    await page.keyboard.press('2');
    await expect.poll(() => page.locator('.zones button').nth(1).getAttribute('aria-pressed')).toBe('true');
    expect(await page.locator('.zones button').first().textContent()).toMatch(/[1-9] in [\d.]+ s.*%/);
    await page.getByText(/prove the leads again/).waitFor();
    await page.getByLabel('Provoked by').selectOption('tapping');
    expect(await accessibilityFindings(page)).toEqual([]);
    expect(await sidewaysOverflow(page)).toBeLessThanOrEqual(0);
    await page.keyboard.press('t');
    await page.getByRole('button', { name: /Start take/ }).waitFor();

    const listings = (await (await fetch(`${service.address}/api/sessions`)).json()) as SessionListing[];
    const contents = (await (await fetch(`${service.address}/api/sessions/${listings[0]!.session}`)).json()) as SessionContents;
    const take = contents.takes.at(-1)!;
    expect(contents.marks.filter((mark) => mark.take === take.id).map(({ kind, text }) => [kind, text])).toEqual([
      ['zone', 'near C2'], ['zone', 'along the arm'], ['provocation', 'tapping'],
    ]);
  }, 60_000);

  it('are in the review', async () => {
    const { page } = opened;
    await page.getByRole('link', { name: 'Review' }).click();
    await page.locator('.review-sessions a').first().click();
    await page.locator('.review-takes .rows a').last().click();
    await page.getByRole('radio', { name: 'Marks' }).check();
    await expect.poll(() => page.locator('.events tbody').textContent()).toMatch(/Zone change 1.*near C2.*Zone change 2.*along the arm.*tapping/);
    expect(opened.troubles).toEqual([]);
  });
});
