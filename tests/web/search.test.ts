/** From a failing check to the span at the splice: what is said, where the leads go next, followed on a desktop and on a phone. */
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { accessibilityFindings, launchBrowser, openPage, stickingOut, type Size } from '../support/browser.ts';
import { followSearch, measureOnce, openSearch } from '../support/search.ts';
import { startService, type StartedService } from '../support/service.ts';

let browser: Browser;
beforeAll(async () => { browser = await launchBrowser(); });
afterAll(() => browser?.close());

describe.each<[Size, boolean]>([['desktop', false], ['phone', true]])('the search for the fault on a %s', (size, dark) => {
  let service: StartedService;
  beforeAll(async () => { service = await startService(['--meter', 'simulated:alder7?seed=5']); });
  afterAll(() => service?.dispose());

  it('leads from a failing ground to the splice, by the checks that it suggests', async () => {
    const { page, troubles, close } = await openPage(browser, service.address, { size, dark });
    // Nothing read yet: it says so and has a first check all the same.
    await openSearch(page, 0);
    await page.getByText('Nothing has been read yet. Say what does not work').waitFor();
    await page.locator('.search-next button').waitFor();
    for (const load of ['conveyor clutch', 'work lamp']) await page.getByRole('group', { name: `Does the ${load} work?` }).getByRole('radio', { name: 'Fails, now or at times' }).check();
    expect(await accessibilityFindings(page)).toEqual([]);

    await page.getByRole('link', { name: 'Watch', exact: true }).click();
    await measureOnce(page);
    await page.locator('.verdict-word').filter({ hasText: 'Fail' }).waitFor();
    const { checks, found } = await followSearch(page, 1);
    // Where the scenario hides it: the crimp at the splice S3, 0.35 ohm at rest.
    expect(found).toMatch(/^Bad joint or strand, about 0\.3\d ohm .* in S3 to C2\/4 .*: look at the splice S3/);
    expect(checks.length).toBeLessThanOrEqual(6);

    // The same in the drawing: wide, whole and in words; and in the table.
    expect(await page.locator('.diagram [data-part="S3 to C2/4"]').getAttribute('class')).toContain('is-found');
    expect(await page.locator('.diagram svg').getAttribute('aria-label')).toMatch(/Chance of a fault: S3 to C2\/4 /);
    expect(await page.locator('.search-faults tbody tr').first().textContent()).toMatch(/S3 to C2\/4.*take \d+: Fail/);
    expect(await accessibilityFindings(page)).toEqual([]);
    expect(await stickingOut(page)).toEqual([]);
    expect(troubles).toEqual([]);
    await close();
  }, 240_000);
});
