/** Searching for the fault in a real page as a technician would: reads what is asked for, goes there, measures, comes back. */
import type { Page } from 'playwright-core';
import { readCautions } from './browser.ts';

const MOST_CHECKS = 10;

/** A spot take of the check at hand, on the watch screen: cautions read, state confirmed, reading settled. */
export async function measureOnce(page: Page): Promise<void> {
  await page.getByRole('button', { name: /Start take/ }).waitFor();
  await readCautions(page);
  const isIt = page.locator('.condition').getByRole('button', { name: 'It is' });
  if (await isIt.count() > 0) await isIt.click();
  await page.getByRole('button', { name: /Start take/ }).click();
  await page.getByRole('button', { name: /Stop take/ }).waitFor();
  await page.locator('.verdict dt').filter({ hasText: 'Steady reading' }).waitFor().catch(async (error: unknown) => {
    throw new Error(`no steady reading; the page shows:\n${await page.locator('main').innerText()}`, { cause: error });
  });
  await page.getByRole('button', { name: /Stop take/ }).click();
  await page.getByRole('button', { name: /Start take/ }).waitFor();
}

/** The chart screen, once everything read so far has been worked out. @param takes  ended takes that it must know of */
export async function openSearch(page: Page, takes: number): Promise<void> {
  await page.getByRole('link', { name: 'Chart', exact: true }).click();
  await page.locator('.search-head[aria-busy="false"]').waitFor();
  await page.waitForFunction((least) => Number(/from (\d+)/.exec(document.querySelector('.search-readings')?.textContent ?? '')?.[1] ?? -1) >= least, takes);
}

/**
 * Follows the suggested checks from the chart screen until the fault is found.
 * @param takes  spot takes made so far
 * @returns names of the checks that were made, and what was found, in words
 * @throws {Error} when it is not found within ten checks, or a check other than a spot take is asked for
 */
export async function followSearch(page: Page, takes: number): Promise<{ checks: string[]; found: string }> {
  const checks: string[] = [];
  await openSearch(page, takes);
  while (checks.length < MOST_CHECKS) {
    const found = page.locator('.search-statement.is-found .search-words');
    if (await found.count() > 0) return { checks, found: (await found.textContent()) ?? '' };
    await page.locator('.search-next button').click();
    await page.waitForURL(/#watch$/);
    if (!(await page.getByRole('radio', { name: 'Spot' }).isChecked())) throw new Error('the search asks for a wiggle take: make it by hand');
    checks.push((await page.locator('.check h1').textContent()) ?? '');
    await measureOnce(page);
    await openSearch(page, takes + checks.length);
  }
  throw new Error(`not found after: ${checks.join('; ')}`);
}
