/** From a check that fails, over a repair, to its proof and the printed report, by hand and eye on the screen. */
import { mkdirSync, writeFileSync } from 'node:fs';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { accessibilityFindings, launchBrowser, openPage, readCautions, simulateFault, stickingOut, type OpenPage } from '../support/browser.ts';
import { paperOf, pictureOf } from '../support/paper.ts';
import { followSearch, measureOnce } from '../support/search.ts';
import { startService, type StartedService } from '../support/service.ts';

const WORK = new URL('../.work/', import.meta.url);
let browser: Browser;
let service: StartedService;
let opened: OpenPage;
let phone: OpenPage;

beforeAll(async () => {
  browser = await launchBrowser();
  service = await startService(['--meter', `simulated:alder7?interval=0.05&aperture=0.05&accuracy=0.5%25%2B2&seed=7`]);
  opened = await openPage(browser, service.address);
  phone = await openPage(browser, `${service.address}/#repair`, { size: 'phone', dark: true });
  await opened.page.locator('.figures-value').waitFor();
});
afterAll(async () => {
  await browser?.close();
  await service?.dispose();
});

async function isSound(page: Page): Promise<void> {
  expect(await accessibilityFindings(page)).toEqual([]);
  expect(await stickingOut(page)).toEqual([]);
}

const go = (name: string) => opened.page.getByRole('navigation', { name: 'Screens' }).getByRole('link', { name }).click();
const standing = (of = opened) => of.page.getByRole('region', { name: 'Whether the repair is proved' });

/** A take of the check that is chosen, in the state that it asks for. */
async function begin(): Promise<void> {
  await opened.page.getByRole('button', { name: /Start take/ }).click();
  await opened.page.getByRole('button', { name: 'It is', exact: true }).click();
}

/** A take that is stopped when something shows. */
async function take(until: (page: Page) => Promise<void>): Promise<void> {
  const { page } = opened;
  await begin();
  await until(page);
  await page.getByRole('button', { name: /Stop take/ }).click();
  await page.getByRole('button', { name: /Start take/ }).waitFor();
}

/** Of the check at hand, so far. */
const verdictIs = (word: string) => (page: Page) => expect.poll(() => page.locator('.watch .verdict-word').textContent(), { timeout: 110_000 }).toContain(word);

describe('before anything has failed', () => {
  it('says that there is nothing to prove, at both sizes, light and dark', async () => {
    await go('Repair');
    await standing().getByText(/No check has failed or dropped out/).waitFor();
    await isSound(opened.page);
    await isSound(phone.page);
    await go('Watch');
  });
});

describe('a check that drops out', () => {
  it('is followed, by the checks that the tool suggests, to the span where the scenario hides the fault: the crimp at the splice S3', async () => {
    const { page } = opened;
    await measureOnce(page);
    await page.locator('.verdict-word').filter({ hasText: 'Fail' }).waitFor();
    const { checks, found } = await followSearch(page, 1);
    expect(checks.length).toBeGreaterThan(0);
    expect(found).toMatch(/^Bad joint or strand, about 0\.3\d ohm .* in S3 to C2\/4 .*: look at the splice S3/);
    await go('Repair');
    await page.getByText(/^From the readings, .* %: Bad joint or strand, about 0\.3\d ohm .* in S3 to C2\/4 .*: look at the splice S3/).waitFor();
  }, 240_000);

  it('drops out besides, as the gantry folds', async () => {
    const { page } = opened;
    await go('Watch');
    await page.getByRole('button', { name: 'Change check' }).click();
    await page.locator('.check-list button').filter({ hasText: /^Ground CL-/ }).click();
    await readCautions(page);
    await page.getByRole('radio', { name: 'Wiggle' }).check();
    await take((shown) => expect.poll(async () => Number(await shown.locator('.watch .verdict-count strong').textContent()), { timeout: 60_000 }).toBeGreaterThanOrEqual(3));
    await go('Repair');
  });
});

describe('the repair', () => {
  it('is written down with pictures, which the other screens show and which can be removed', async () => {
    const { page } = opened;
    await standing().getByText('Nothing repaired yet').waitFor();
    await page.getByRole('button', { name: 'Take this as the finding' }).click();
    await expect.poll(() => page.getByLabel('What was found, in your words').inputValue()).toContain('in S3 to C2/4');
    await page.getByLabel('What was found, in your words').fill('Crimp at splice S3 green and loose.');
    await page.getByRole('region', { name: 'Finding' }).getByRole('button', { name: 'Save' }).click();
    await expect.poll(() => phone.page.getByLabel('What was found, in your words').inputValue()).toBe('Crimp at splice S3 green and loose.');

    // Taken on the phone: larger than is kept.
    const picture = await phone.page.screenshot({ type: 'png', fullPage: true });
    await phone.page.getByLabel(/Add pictures/).setInputFiles([{ name: 'before.png', mimeType: 'image/png', buffer: picture }]);
    await page.getByRole('img', { name: 'Picture 1' }).waitFor();
    await page.getByLabel(/Add pictures/).setInputFiles([{ name: 'after.png', mimeType: 'image/png', buffer: await page.screenshot() }]);
    await page.getByRole('img', { name: 'Picture 2' }).waitFor();
    await page.getByRole('button', { name: 'Remove picture 1' }).click();
    await expect.poll(() => page.getByRole('list', { name: 'Pictures' }).getByRole('img').count()).toBe(1);
    await page.getByLabel(/Add pictures/).setInputFiles([{ name: 'notes.txt', mimeType: 'text/plain', buffer: Buffer.from('no picture') }]);
    await page.getByText('notes.txt is no picture that this browser can read.').waitFor();
    await page.getByRole('button', { name: 'Dismiss' }).click();
    await isSound(page);

    await page.getByLabel('What was done').fill('Crimp at splice S3 cut out, new crimp, sealed');
    await page.getByLabel(/^Where/).fill('S3 to C2/4');
    // What is typed outlives a look at another screen.
    await go('Watch');
    await go('Repair');
    await page.getByRole('button', { name: 'Repaired: note it now' }).click();
    await standing().getByText('Not yet proved', { exact: true }).waitFor();
    await standing(phone).getByText('Not yet proved', { exact: true }).waitFor();
    await page.getByText('Repeat "ground, red on CL-, black on B-" as a wiggle take.').first().waitFor();
    await isSound(page);
    await isSound(phone.page);
  });

  it('is proved without a check that failed for another reason, once that is said; and it can count again', async () => {
    const { page } = opened;
    const row = page.getByRole('article').filter({ hasText: 'Ground CL-' });
    await row.getByText('It failed for another reason').click();
    await row.getByLabel('For which reason').fill('The stud was left loose by us.');
    await isSound(page);
    await row.getByRole('button', { name: 'Set this check aside' }).click();
    await phone.page.getByText(/^Take \d+ failed for another reason: The stud was left loose by us\.$/).waitFor();
    await isSound(phone.page);
    await row.getByRole('button', { name: 'Let it count again' }).click();
    await page.getByText('Repeat "ground, red on CL-, black on B-" as a wiggle take.').first().waitFor();
  });

  it('is not proved by a check that was not repeated in the same way', async () => {
    const { page } = opened;
    await go('Watch');
    await simulateFault(page, 'No fault');
    await page.getByRole('radio', { name: 'Spot' }).check();
    await page.getByRole('button', { name: 'Change check' }).click();
    await page.locator('.check-list button').filter({ hasText: /^Ground CL-/ }).click();
    await take(verdictIs('Pass'));
    await go('Repair');
    await page.getByText(/It failed in a wiggle take: repeat it as a wiggle take, a spot take is not enough\./).first().waitFor();
    await standing().getByText('Not yet proved', { exact: true }).waitFor();
    // Something was measured since: what was noted stands.
    expect(await page.getByRole('button', { name: 'Correct', exact: true }).count()).toBe(0);
  });

  it('leads to each check, watched as before, and is proved when all are clean for long enough', async () => {
    const { page } = opened;
    const row = (check: string) => page.getByRole('article').filter({ hasText: check });
    // Whatever failed on the way, held by hand.
    const open = page.getByRole('article').filter({ hasText: '· Spot' }).filter({ has: page.getByText('not yet', { exact: true }) });
    for (let left = await open.count(); left > 0; left--) {
      await open.first().getByRole('button', { name: /^Repeat/ }).click();
      await page.getByRole('button', { name: /Start take/ }).waitFor();
      await expect.poll(() => page.getByRole('radio', { name: 'Spot' }).isChecked()).toBe(true);
      await take(verdictIs('Pass'));
      await go('Repair');
      await expect.poll(() => open.count()).toBe(left - 1);
    }
    await row('Ground CL-').getByRole('button', { name: /^Repeat/ }).click();
    await page.getByRole('button', { name: /Start take/ }).waitFor();
    expect(new URL(page.url()).hash).toBe('#watch');
    // The state of the service follows its answer.
    await expect.poll(() => page.getByRole('radio', { name: 'Wiggle' }).isChecked()).toBe(true);
    await page.getByText('This check proves the repair: it failed before.').waitFor();
    await isSound(page);
    // It ends by itself: long enough without a dropout.
    await begin();
    await page.getByText(/ended: its claim was met/).waitFor({ timeout: 110_000 });
    await verdictIs('Pass')(page);
    await go('Repair');
    await standing().getByText('Proved', { exact: true }).waitFor();
    await expect.poll(() => page.locator('.statistics').textContent()).toMatch(/^\d+ dropouts in [\d.]+ s before, 0 in [\d.]+ s after: had nothing changed, so few would have a chance of [\d.]+ % \(p = [\d.e-]+\)\.$/);
    // Two traces side by side, of the takes before and after.
    await expect.poll(() => row('Ground CL-').locator('.pair .trace-plot canvas').count()).toBe(2);
    await isSound(page);
    await standing(phone).getByText('Proved', { exact: true }).waitFor();
    await isSound(phone.page);
  }, 150_000);
});

describe('the report', () => {
  it.each(['A4', 'Letter'] as const)('prints on %s, with all that somebody else must believe on the first page', async (format) => {
    const [report] = await Promise.all([opened.page.context().waitForEvent('page'), opened.page.getByRole('link', { name: 'Open the report' }).click()]);
    const troubles: string[] = [];
    report.on('console', (message) => troubles.push(message.text()));
    await report.waitForLoadState();
    await report.reload();
    expect(await stickingOut(report)).toEqual([]);
    expect(await report.locator('.photos img').evaluate((image: HTMLImageElement) => image.complete && image.naturalWidth > 0)).toBe(true);
    const pdf = await report.pdf({ format });
    mkdirSync(WORK, { recursive: true });
    writeFileSync(new URL(`repair-${format}.pdf`, WORK), pdf);
    // All takes follow on a second page where there are many.
    const [words] = paperOf(pdf).words;
    for (const said of [
      'Repaired and proved. Found: Crimp at splice S3 green and loose. Done: Crimp at splice S3 cut out, new crimp, sealed (S3 to C2/4).', 'SIMULATED METER', '+/-(0.5 % + 2 counts)', 'calibration date not given',
      'that failed pass', 'From the readings, over 99.', 'Bad joint or strand', 'dropouts in', 'service information', 'Last hash of its chain',
    ]) expect(words).toContain(said);
    expect(words).toMatch(/[0-9a-f]{64}/);
    // The page as a picture: ink where there should be some, and none at its edge (10 mm).
    const { width, height, grey } = pictureOf(pdf);
    const inkIn = (fromX: number, fromY: number, toX: number, toY: number): number => {
      let ink = 0;
      for (let y = Math.floor(fromY * height); y < toY * height; y++) for (let x = Math.floor(fromX * width); x < toX * width; x++) ink += (grey[y * width + x] ?? 255) < 160 ? 1 : 0;
      return ink;
    };
    expect(inkIn(0, 0, 0.03, 1) + inkIn(0.97, 0, 1, 1)).toBe(0);
    expect(inkIn(0.05, 0.03, 0.95, 0.2)).toBeGreaterThan(200);
    expect(inkIn(0.05, 0.4, 0.95, 0.7)).toBeGreaterThan(200);
    expect(troubles).toEqual([]);
    await report.close();
  });

  it('and the repair can be looked at from the review, without anything to change', async () => {
    const { page } = opened;
    await page.getByRole('button', { name: /^Session/ }).click();
    await page.getByRole('button', { name: 'New session' }).click();
    await go('Review');
    await page.locator('.review-sessions a').first().click();
    await page.getByRole('link', { name: 'Repair and proof' }).click();
    await standing().getByText('Proved', { exact: true }).waitFor();
    await page.getByRole('img', { name: 'Picture 1' }).waitFor();
    expect(await page.getByRole('button', { name: /note it now|Repeat|Remove/ }).count()).toBe(0);
    await isSound(page);
  });

  it('and gone on with from there, as on another day', async () => {
    const { page } = opened;
    await page.getByRole('button', { name: 'Go on with this session' }).click();
    await page.getByRole('button', { name: /Start take/ }).waitFor();
    await go('Repair');
    await standing().getByText('Proved', { exact: true }).waitFor();
    await page.getByRole('button', { name: 'Repaired: note it now' }).waitFor();
    await isSound(page);
    expect(opened.troubles).toEqual([]);
    expect(phone.troubles).toEqual([]);
  });
});
