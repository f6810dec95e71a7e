/** The work that is done on recordings in the dashboard: notes, names, the trash, tables brought in, a trace moved by fingers. Service and browser are real. */
import { copyFileSync, mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { SessionContents, SessionListing } from '../../server/live/protocol.ts';
import { accessibilityFindings, launchBrowser, openPage, stickingOut, type OpenPage } from '../support/browser.ts';
import { startService, type StartedService } from '../support/service.ts';

let browser: Browser;
let service: StartedService;
let opened: OpenPage;

beforeAll(async () => {
  const folder = mkdtempSync(join(tmpdir(), 'loomtrace-review-'));
  for (const name of ['first', 'second']) copyFileSync(new URL('../../recordings/demo.sqlite', import.meta.url), join(folder, `${name}.sqlite`));
  browser = await launchBrowser();
  service = await startService([], folder);
  opened = await openPage(browser, `${service.address}/#review/first/2`);
});
afterAll(async () => {
  await browser?.close();
  await service?.dispose();
});

const listed = async (search = '') => (await (await fetch(`${service.address}/api/sessions?search=${encodeURIComponent(search)}`)).json()) as SessionListing[];

describe('notes', () => {
  it('are written at the place pointed at, lead back there, and are found by a search', async () => {
    const { page } = opened;
    await page.locator('.view-text').waitFor();
    await page.locator('.trace-plot').first().click();
    const notes = page.getByRole('region', { name: 'Notes on this take' });
    await notes.getByLabel(/New note at/).fill('Opens as the gantry folds, look at the splice');
    await notes.getByRole('button', { name: 'Keep' }).click();
    await notes.getByText('look at the splice').waitFor();
    expect((await listed('the splice')).map(({ session }) => session)).toEqual(['first']);
    await notes.getByRole('button', { name: /Go to/ }).click();
    await expect.poll(() => page.locator('.view-text').textContent()).not.toContain('0:00.0 to');
    expect(await accessibilityFindings(page)).toEqual([]);
  });

  it('are changed, and taken out with a way back', async () => {
    const notes = opened.page.getByRole('region', { name: 'Notes on this take' });
    await notes.getByRole('button', { name: 'Change' }).click();
    await notes.getByLabel('Change').fill('It was the crimp');
    await notes.getByRole('button', { name: 'Keep' }).first().click();
    await notes.getByText('It was the crimp').waitFor();
    await notes.getByRole('button', { name: 'Take out' }).click();
    await expect.poll(async () => (await listed('the crimp')).length).toBe(0);
    await notes.getByRole('button', { name: 'Undo' }).click();
    await expect.poll(async () => (await listed('the crimp')).length).toBe(1);
  });
});

describe('a take judged by another version', () => {
  it('still has its verdict beside the trace', async () => {
    const { page } = opened;
    const [trace, verdict] = await Promise.all([page.locator('.take-main').boundingBox(), page.locator('.take > .verdict').boundingBox()]);
    expect(await page.locator('.judged-again').count()).toBe(1);
    expect(verdict!.y).toBe(trace!.y);
    expect(verdict!.x).toBeGreaterThanOrEqual(trace!.x + trace!.width);
  });

  it('is judged again only when that is asked for, since it reads every sample', async () => {
    const { page } = opened;
    let asked = 0;
    page.on('request', (request) => { if (request.url().endsWith('/again')) asked++; });
    await page.reload();
    await page.locator('.view-text').waitFor();
    expect(asked).toBe(0);
    await page.locator('.judged-again summary').click();
    await page.locator('.judged-again li').first().waitFor();
    expect(asked).toBe(1);
  });
});

describe('two takes', () => {
  it('of two sessions are compared, the likest first', async () => {
    const { page } = opened;
    await page.getByLabel('Compare with').selectOption('/second');
    await page.locator('.before-after tbody tr').nth(1).waitFor();
    expect(await page.locator('.trace-plot').count()).toBe(2);
    expect(await page.getByLabel('Its take').locator('option:checked').textContent()).toMatch(/^Take 3/);
    await page.getByLabel('Its take').selectOption({ index: 0 });
    await expect.poll(() => page.locator('.before-after tbody tr').allTextContents()).toEqual([expect.stringMatching(/^Before: Take 1Fail/), expect.stringMatching(/^After: Take 2/)]);
    expect(await accessibilityFindings(page)).toEqual([]);
    expect(await stickingOut(page)).toEqual([]);
    await page.getByLabel('Compare with').selectOption('');
    await expect.poll(() => page.locator('.trace-plot').count()).toBe(1);
  });
});

describe('a session', () => {
  it('is described anew, and found by its vehicle', async () => {
    const { page } = opened;
    await page.goto(`${service.address}/#review/second`);
    await page.locator('.keeping summary').click();
    await page.getByLabel('Vehicle').fill('Juniper 4');
    await page.getByRole('button', { name: 'Save', exact: true }).click();
    await page.locator('.session-about').getByText('Juniper 4').waitFor();
    expect((await listed('juniper')).map(({ session }) => session)).toEqual(['second']);
  });

  it('is thrown away and had back', async () => {
    const { page } = opened;
    await page.getByRole('button', { name: 'Throw away' }).click();
    await page.getByText('Thrown away.').waitFor();
    expect((await listed()).length).toBe(1);
    await page.getByRole('button', { name: 'Undo' }).click();
    await expect.poll(async () => (await listed()).length).toBe(2);
    await page.locator('.space-line').getByText(/free/).waitFor();
  });
});

describe('a table brought in', () => {
  it('is shown as it is understood, corrected, and judged by what the user says of it', async () => {
    const { page } = opened;
    const file = join(service.recordings, 'table.txt');
    const rows = Array.from({ length: 900 }, (_, i) => `${i * 100};7;${i === 400 || i === 700 ? '3,10' : `12,1${i % 3}`}`);
    writeFileSync(file, `\ufeffwhen;what;reading\r\n;;\r\n${rows.join('\r\n')}\r\n`);
    await page.goto(`${service.address}/#review`);
    await page.getByRole('button', { name: 'Bring in a table or a session' }).click();
    await page.getByLabel(/^Table \(CSV\)/).setInputFiles(file);
    const dialog = page.getByRole('dialog');
    await dialog.getByText(/is taken as seconds/).waitFor();
    expect(await dialog.getByLabel('Decimal sign').inputValue()).toBe('comma');
    await dialog.getByLabel('written as').selectOption({ label: 'milliseconds' });
    if (await dialog.getByRole('checkbox', { name: 'what' }).isChecked()) await dialog.getByRole('checkbox', { name: 'what' }).uncheck();
    await dialog.getByLabel('Unit of reading').fill('V');
    await dialog.getByLabel('Lowest limit').fill('11,5');
    await dialog.getByLabel(/Accuracy/).fill('0.5');
    await dialog.getByLabel('and counts').fill('2');
    expect(await accessibilityFindings(page)).toEqual([]);
    await dialog.getByRole('button', { name: 'Bring it in' }).click();
    await page.getByRole('link', { name: 'Open it' }).click();
    await page.locator('.review-takes .rows a').first().waitFor();
    const session = decodeURIComponent(new URL(page.url()).hash.split('/')[1]!);
    const { takes: [take] } = (await (await fetch(`${service.address}/api/sessions/${session}`)).json()) as SessionContents;
    expect(take).toMatchObject({ verdict: 'intermittent', samples: 900 });
    expect(take!.judgement.dropouts.length).toBe(2);
    expect(take!.judgement.elapsed).toBeCloseTo(89.9, 0);
  });
});

describe('on a phone', () => {
  it('two fingers zoom a trace, one moves it', async () => {
    const phone = await openPage(browser, `${service.address}/#review/first/2`, { size: 'phone' });
    const { page } = phone;
    await page.locator('.view-text').waitFor();
    await page.getByRole('group', { name: 'Part of the take that is shown' }).first().scrollIntoViewIfNeeded();
    const span = async () => {
      const [from, to] = (await page.locator('.view-text').textContent())!.split(' to ').map((text) => text.split(':').reduce((sum, part) => sum * 60 + Number(part), 0));
      return { from: from!, length: to! - from! };
    };
    const whole = await span();
    const box = (await page.locator('.trace-plot').first().boundingBox())!;
    const [x, y] = [box.x + box.width / 2, box.y + 80];
    const session = await page.context().newCDPSession(page);
    const touch = (type: 'touchStart' | 'touchMove' | 'touchEnd', ...xs: number[]) => session.send('Input.dispatchTouchEvent', { type, touchPoints: xs.map((at, id) => ({ x: at, y, id })) });
    await touch('touchStart', x - 20, x + 20);
    for (let apart = 30; apart <= 80; apart += 10) await touch('touchMove', x - apart, x + apart);
    await touch('touchEnd');
    await expect.poll(async () => (await span()).length).toBeLessThan(whole.length / 2.5);
    const before = await span();
    await touch('touchStart', x);
    for (let by = 10; by <= 60; by += 10) await touch('touchMove', x + by);
    await touch('touchEnd');
    await expect.poll(async () => (await span()).from).toBeLessThan(before.from);
    expect((await span()).length).toBeCloseTo(before.length, 1);
    expect(await stickingOut(page)).toEqual([]);
    expect(phone.troubles).toEqual([]);
    await phone.close();
  });
});
