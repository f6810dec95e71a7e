/** The chart typed by keyboard alone, pasted, taken back, used: and the checks that come from it. */
import { fileURLToPath } from 'node:url';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { accessibilityFindings, launchBrowser, openPage, stickingOut, type OpenPage } from '../support/browser.ts';
import { startService, type StartedService } from '../support/service.ts';

let browser: Browser;
let service: StartedService;
let opened: OpenPage;

beforeAll(async () => {
  browser = await launchBrowser();
  service = await startService([]);
  opened = await openPage(browser, `${service.address}/#chart`);
  await opened.page.locator('.sheet').waitFor();
});
afterAll(async () => {
  await browser?.close();
  await service?.dispose();
});

describe('the chart of the demo', () => {
  it('is shown as a table and as a drawing, without accessibility findings at both sizes', async () => {
    const { page } = opened;
    expect(await page.locator('.sheet tbody tr').count()).toBe(13);
    expect(await page.locator('.d-span').count()).toBe(12);
    for (const sheet of ['Components', 'Points', 'Panels', 'Circuits', 'Spans']) {
      await page.getByRole('radio', { name: sheet }).check();
      expect(await accessibilityFindings(page), sheet).toEqual([]);
    }
    expect(await stickingOut(page)).toEqual([]);
    const phone = await openPage(browser, `${service.address}/#chart`, { size: 'phone', dark: true });
    await phone.page.locator('.sheet').waitFor();
    expect(await accessibilityFindings(phone.page)).toEqual([]);
    expect(await stickingOut(phone.page)).toEqual([]);
    expect(phone.troubles).toEqual([]);
    await phone.close();
  });

  it('takes a new wire by keyboard alone, and the drawing follows', async () => {
    const { page } = opened;
    await page.locator('[data-cell="12:0"]').focus();
    for (const text of ['C2/1', 'HR+', '0.6', 'AWG 18', 'GN', 'gantry to horn']) {
      await page.keyboard.type(text);
      await page.keyboard.press('Tab');
    }
    await expect.poll(() => page.locator('.d-span').count()).toBe(13);
    await page.keyboard.type('vibration');
    await page.getByText(/expected of flex, heat, damp, abrasion, got/).waitFor();
    expect(await page.locator('[data-cell="12:6"]').getAttribute('aria-invalid')).toBe('true');
    for (let i = 0; i < 'vibration'.length; i++) await page.keyboard.press('Backspace');
    await page.keyboard.press('Enter');
    expect(await page.evaluate(() => document.activeElement?.getAttribute('data-cell'))).toBe('13:6');
  });

  it('takes a block pasted from a spreadsheet, and takes it back', async () => {
    const { page } = opened;
    await page.locator('[data-cell="13:0"]').focus();
    await page.evaluate(() => {
      const data = new DataTransfer();
      data.setData('text/plain', 'HR-\tS3\t0,7\t0.75\tBK\tgantry to horn\tdamp\r\nS3\tX9\t1\t1\tBK\tnowhere\tflex\r\n');
      document.activeElement!.dispatchEvent(new ClipboardEvent('paste', { clipboardData: data, bubbles: true, cancelable: true }));
    });
    await expect.poll(() => page.locator('.d-span').count()).toBe(15);
    await page.keyboard.press('Control+z');
    await expect.poll(() => page.locator('.d-span').count()).toBe(13);
    await page.keyboard.press('Control+y');
    await expect.poll(() => page.locator('.d-span').count()).toBe(15);
    // Keys faster than the screen is drawn.
    await page.evaluate(() => {
      for (const key of ['z', 'z', 'y']) dispatchEvent(new KeyboardEvent('keydown', { key, ctrlKey: true, cancelable: true }));
    });
    await expect.poll(() => page.locator('.d-span').count()).toBe(13);
    await page.keyboard.press('Control+y');
    await expect.poll(() => page.locator('.d-span').count()).toBe(15);
    await page.locator('[data-cell="14:0"]').focus();
    await page.keyboard.press('Control+Backspace');
    await expect.poll(() => page.locator('.d-span').count()).toBe(14);
  });

  it('takes wires out of a harness file after showing them, says what it left out, and takes it back', async () => {
    const { page } = opened;
    const before = await page.locator('.d-span').count();
    const chooser = page.waitForEvent('filechooser');
    await page.getByRole('button', { name: 'Import harness (KBL)' }).click();
    await (await chooser).setFiles(fileURLToPath(new URL('../reference/sample.kbl.xml', import.meta.url)));
    await page.getByText('2 wires and 4 pins found.').waitFor();
    await page.getByText('GROUND: no length, 1 m taken').waitFor();
    expect(await accessibilityFindings(page)).toEqual([]);
    expect(await page.locator('.d-span').count()).toBe(before);
    await page.getByRole('button', { name: 'Add to the chart' }).click();
    await expect.poll(() => page.locator('.sheet tbody tr').count()).toBe(before + 3);
    await page.keyboard.press('Control+z');
    await expect.poll(() => page.locator('.sheet tbody tr').count()).toBe(before + 1);
    const again = page.waitForEvent('filechooser');
    await page.getByRole('button', { name: 'Import harness (KBL)' }).click();
    await (await again).setFiles({ name: 'list.xml', mimeType: 'text/xml', buffer: Buffer.from('<a/>') });
    await page.getByText('list.xml can’t be read: no KBL_container in the file').waitFor();
    await page.getByRole('button', { name: 'Dismiss' }).click();
  });

  it('is used, gives checks of the new load, and shows on another screen', async () => {
    const { page } = opened;
    await page.getByRole('radio', { name: 'Components' }).check();
    await page.locator('[data-cell="5:0"]').focus();
    for (const text of ['load', 'HR', 'horn', 'HR+', 'HR-', '2']) {
      await page.keyboard.type(text);
      await page.keyboard.press('Tab');
    }
    await page.getByRole('radio', { name: 'Circuits' }).check();
    await page.locator('[data-cell="0:3"]').fill('');
    await page.getByRole('button', { name: 'Use this chart' }).click();
    await page.getByText('This chart is in use.').waitFor();
    const other = await openPage(browser, `${service.address}/#chart`);
    await expect.poll(() => other.page.locator('.d-span').count()).toBe(14);
    await other.close();
    await page.getByRole('link', { name: 'Watch' }).click();
    await page.getByRole('button', { name: 'Change check' }).click();
    await page.getByRole('searchbox').fill('HR-');
    await page.locator('.check-list button').filter({ hasText: /^Ground HR-/ }).waitFor();
    await page.getByRole('button', { name: 'Close' }).click();
  });

  it('does not overwrite what somebody else has changed meanwhile', async () => {
    const other = await openPage(browser, `${service.address}/#chart`);
    const { page } = opened;
    await page.getByRole('link', { name: 'Chart' }).click();
    await page.getByRole('textbox', { name: 'Name', exact: true }).fill('mine');
    await other.page.getByRole('textbox', { name: 'Name', exact: true }).fill('theirs');
    await other.page.getByRole('button', { name: 'Use this chart' }).click();
    await page.getByText(/Somebody else has changed the chart/).waitFor();
    expect(await page.getByRole('button', { name: 'Use this chart' }).isDisabled()).toBe(true);
    await page.getByRole('button', { name: 'Take over the other chart' }).click();
    await expect.poll(() => page.getByRole('textbox', { name: 'Name', exact: true }).inputValue()).toBe('theirs');
    await other.close();
    expect(opened.troubles).toEqual([]);
  });
});
