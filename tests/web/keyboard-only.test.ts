/** The whole working hour without a mouse: everything is reached by Tab, works by Enter, space or arrows, and shows where the focus is (WCAG 2.2: 2.1.1, 2.1.2, 2.4.7). */
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { launchBrowser, openPage, type OpenPage } from '../support/browser.ts';
import { Dashboard, startService, type StartedService } from '../support/service.ts';

let browser: Browser;
let service: StartedService;
let opened: OpenPage;
let other: Dashboard;
beforeAll(async () => {
  browser = await launchBrowser();
  service = await startService(['--meter', 'simulated:alder7?seed=3']);
  other = await Dashboard.open(service.address);
  opened = await openPage(browser, service.address, { calm: true });
  await opened.page.locator('.figures-value').waitFor();
});
afterAll(async () => {
  await browser?.close();
  await service?.dispose();
});

const press = (...keys: string[]): Promise<void> => keys.reduce(async (before, key) => { await before; await opened.page.keyboard.press(key); }, Promise.resolve());

/** Presses Tab until the focus is on what is called so. @throws {Error} when it is not reached, or the focus can't be seen on the way */
async function tabTo(name: RegExp): Promise<void> {
  const seen: string[] = [];
  for (let i = 0; i < 150; i++) {
    await press('Tab');
    const at = await opened.page.evaluate(() => {
      const element = document.activeElement!;
      const style = getComputedStyle(element);
      const label = element instanceof HTMLInputElement || element instanceof HTMLSelectElement || element instanceof HTMLTextAreaElement ? [...(element.labels ?? [])].map((own) => own.textContent).join(' ') : '';
      // A radio button is drawn by what stands next to it.
      const drawn = element.nextElementSibling === null ? style : getComputedStyle(element.nextElementSibling);
      const shows = [style, drawn].some(({ outlineStyle, outlineWidth }) => outlineStyle !== 'none' && parseFloat(outlineWidth) >= 2);
      return { name: `${element.getAttribute('aria-label') ?? ''} ${label} ${element.textContent ?? ''}`.replace(/\s+/g, ' ').trim(), shows, isPage: element === document.body };
    });
    seen.push(at.name);
    if (!at.shows && !at.isPage) throw new Error(`the focus can't be seen on "${at.name}"`);
    if (name.test(at.name)) return;
  }
  throw new Error(`${String(name)} was not reached: ${[...new Set(seen)].join(' | ')}`);
}

describe('by keyboard alone', () => {
  it('skips to the screen, reads the cautions, confirms the circuit, and takes the first reading', async () => {
    await press('Tab', 'Enter');
    expect(await opened.page.evaluate(() => document.activeElement?.id)).toBe('main');
    while (other.state.cautions.some(({ isAcknowledged }) => !isAcknowledged)) {
      const left = other.state.cautions.filter(({ isAcknowledged }) => !isAcknowledged).length;
      // This page may hear of it a moment after the other one.
      await opened.page.getByText(other.state.cautions.find(({ isAcknowledged }) => !isAcknowledged)!.text).first().waitFor();
      await tabTo(/^Understood$/);
      await press('Enter');
      await other.until(() => other.state.cautions.filter(({ isAcknowledged }) => !isAcknowledged).length < left, 'the caution to be read');
    }
    await tabTo(/^It is$/);
    await press('Enter');
    await other.until(() => other.state.condition.isMet, 'the state of the circuit');
    await tabTo(/^Start take/);
    await press('Enter');
    await opened.page.getByText(/^Captured: 1\.9\d* V, fail$/).waitFor();
    await tabTo(/^Accept/);
    await press('Enter');
    await other.until(() => other.state.take?.id === 2, 'the next check');
    await tabTo(/^Stop take/);
    await press(' ');
    await other.until(() => other.state.take === null, 'the end');
  });

  it('finds a check by its name, changes its limit, and goes over to wiggling', async () => {
    await tabTo(/^Change check$/);
    await press('Enter');
    await opened.page.getByRole('dialog').waitFor();
    await opened.page.getByRole('searchbox').focus();
    await opened.page.keyboard.type('CL+ supply');
    await tabTo(/^Switched supply CL\+/);
    await press('Enter');
    await other.until(() => other.state.check.id === 'supply CL+', 'the check');
    await tabTo(/^Change check$/);
    await press('Enter');
    await tabTo(/^Not below, V/);
    await press('Control+a');
    await opened.page.keyboard.type('11,5');
    await tabTo(/^Use this check/);
    await press('Enter');
    await other.until(() => other.state.check.limits.low === 11.5, 'the limit');
    // Still the check of the chart, with what to do before touching.
    expect(other.state.check).toMatchObject({ id: 'supply CL+', limitsBasis: 'typed by the user' });
    expect(other.state.check.instructions.length).toBeGreaterThan(0);
    await tabTo(/^Spot$/);
    await press('ArrowRight');
    await other.until(() => other.state.watching === 'wiggle', 'wiggling');
    // This page may hear of it a moment after the other one.
    await opened.page.locator('.zones button').first().waitFor();
    await tabTo(/^Start take/);
    await press('Enter');
    await other.until(() => other.state.take !== null, 'the take');
    await opened.page.getByRole('button', { name: /^Stop take/ }).waitFor();
    await press('1');
    await other.until(() => other.state.wiggle.zone === other.state.wiggle.zones[0], 'zone 1');
    await press('0', 't');
    await other.until(() => other.state.take === null, 'the end');
  });

  it('types a wire, arms the road, locks and unlocks it, and comes to the review and the report', async () => {
    const { page } = opened;
    await tabTo(/^Chart$/);
    await press('Enter');
    await page.locator('.sheet').waitFor();
    await tabTo(/^From, row 13/);
    for (const text of ['C2/1', 'HR+', '0.6']) {
      await page.keyboard.type(text);
      await press('Tab');
    }
    await tabTo(/^Undo$/);
    await press('Enter');
    await tabTo(/^Road$/);
    await press('Enter');
    await tabTo(/^Start road test/);
    await press('Enter');
    await other.until(() => other.state.take?.watching === 'road', 'the road test');
    await tabTo(/^Lock screen$/);
    await press('Enter');
    await other.until(() => other.state.road.isLocked, 'the lock');
    await press('m');
    await other.until(() => other.state.marks.length === 1, 'a mark while locked');
    await tabTo(/^Hold to unlock$/);
    await page.keyboard.down('Enter');
    await other.until(() => !other.state.road.isLocked, 'the lock to open');
    await page.keyboard.up('Enter');
    await tabTo(/^Stop take$/);
    await press('Enter');
    await other.until(() => other.state.take === null, 'the end');
    await tabTo(/^Review$/);
    await press('Enter');
    await page.locator('.review-sessions').waitFor();
    await tabTo(/^Repair$/);
    await press('Enter');
    await tabTo(/^Open the report/);
    const [report] = await Promise.all([page.context().waitForEvent('page'), press('Enter')]);
    await report.getByRole('heading').first().waitFor();
    expect(await report.locator('body').textContent()).toContain('ground, red on CL-');
    expect(opened.troubles).toEqual([]);
  });
});
