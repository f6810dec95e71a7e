/** Wiggle-testing a harness from the proof of the leads to the zone that is the source, by hand and eye on the screen. */
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { SessionContents, SessionListing } from '../../server/live/protocol.ts';
import { accessibilityFindings, launchBrowser, openPage, readCautions, simulateFault, stickingOut, type OpenPage } from '../support/browser.ts';
import { startService, type StartedService } from '../support/service.ts';

let browser: Browser;
let service: StartedService;
let opened: OpenPage;

/** Keeps what is spoken. */
function listen(): void {
  const spoken: string[] = [];
  Object.assign(window, { spoken });
  speechSynthesis.speak = (utterance) => void spoken.push(utterance.text);
}

beforeAll(async () => {
  browser = await launchBrowser();
  service = await startService(['--meter', `simulated:alder7?seed=7`]);
  opened = await openPage(browser, service.address, { before: listen });
  await opened.page.locator('.figures-value').waitFor();
  await opened.page.getByRole('radio', { name: 'Wiggle' }).check();
});
afterAll(async () => {
  await browser?.close();
  await service?.dispose();
});

describe('before the take', () => {
  it('shows the cautions one after the other, and each only once a session', async () => {
    const { page } = opened;
    const read = await readCautions(page);
    expect(read.length).toBeGreaterThan(1);
    expect(read.some((text) => /restraint-system/.test(text))).toBe(true);
    await page.reload();
    await page.locator('.figures-value').waitFor();
    expect(await page.getByRole('button', { name: 'Understood' }).count()).toBe(0);
  });

  it('asks whether the circuit is in the state that the check needs', async () => {
    const { page } = opened;
    await page.getByText(/Is the circuit in this state: key on/).waitFor();
    await page.getByRole('button', { name: 'It is', exact: true }).click();
    await page.getByText(/^Confirmed: key on/).waitFor();
  });
});

describe('the zones before the take', () => {
  it('come from the chart, and can be named by the operator, in order along the harness', async () => {
    const { page } = opened;
    expect((await page.locator('.zone-name').allTextContents()).length).toBeGreaterThan(1);
    await page.getByRole('button', { name: 'Name zones' }).click();
    await page.getByRole('textbox', { name: 'One zone a line, in order' }).fill('near C2\nalong the arm\nnear G2');
    await page.getByRole('button', { name: 'Use', exact: true }).click();
    await expect.poll(() => page.locator('.zone-name').allTextContents()).toEqual(['near C2', 'along the arm', 'near G2']);
  });
});

describe('the proof of the leads', () => {
  it('is asked for first, and runs by itself for ten seconds within the take', async () => {
    const { page } = opened;
    await simulateFault(page, 'No fault');
    await page.getByText(/The leads are not proved yet/).waitFor();
    await page.getByRole('button', { name: 'Prove the leads' }).click();
    await page.locator('.proof-left').waitFor();
    expect(await accessibilityFindings(page)).toEqual([]);
    await page.getByText(/The leads held while they were tugged/).waitFor();
    expect(await page.getByRole('button', { name: /Stop take/ }).count()).toBe(1);
  });
});

describe('the zones', () => {
  it('are paced by the tool, which says which one is next', async () => {
    const { page } = opened;
    await page.getByRole('button', { name: 'Pace me' }).click();
    await page.getByText(/^Zone 1, near C2: flex for 20 s\.$/).waitFor();
    expect(await page.evaluate(() => (window as unknown as { spoken: string[] }).spoken)).toEqual(['Zone 1, near C2: flex for 20 seconds.']);
    await page.getByRole('button', { name: 'Pace me' }).click();
    // The hands are off with it.
    await expect.poll(() => page.locator('.zones button').first().getAttribute('aria-pressed')).toBe('false');
  });

  it('take the dropouts that fall while they are flexed, by touch and by key, and ask for another proof', async () => {
    const { page } = opened;
    const zone = page.locator('.zones button').first();
    await page.getByRole('button', { name: /near C2/ }).click();
    await expect.poll(() => zone.getAttribute('aria-pressed')).toBe('true');
    await simulateFault(page, 'Crimp at splice S3 good at rest, opens as the gantry folds');
    // One that comes sooner than hands react is not of this zone.
    await expect.poll(() => zone.textContent()).toMatch(/[1-9] in [\d.]+ s.*%/);
    const counted = Number(/^([1-9]\d*) in /.exec((await zone.locator('.zone-facts').textContent()) ?? '')?.[1]);
    await expect.poll(async () => Number(await page.locator('.watch .verdict-count strong').textContent())).toBeGreaterThanOrEqual(counted);
    // Longer than the reaction lag, within which a change of zone is dated back.
    await page.waitForTimeout(2500);
    await page.keyboard.press('2');
    await expect.poll(() => page.locator('.zones button').nth(1).getAttribute('aria-pressed')).toBe('true');
    expect(await zone.textContent()).toMatch(/[1-9] in [\d.]+ s.*%/);
    await page.locator(".rig").getByText(/Prove the leads once more/).waitFor();
    await page.getByRole('button', { name: 'tap', exact: true }).click();
    await expect.poll(() => page.getByRole('button', { name: 'tap', exact: true }).getAttribute('aria-pressed')).toBe('true');
    expect(await accessibilityFindings(page)).toEqual([]);
    expect(await stickingOut(page)).toEqual([]);
    await page.keyboard.press('t');
    await page.getByRole('button', { name: /Start take/ }).waitFor();

    const listings = (await (await fetch(`${service.address}/api/sessions`)).json()) as SessionListing[];
    const contents = (await (await fetch(`${service.address}/api/sessions/${listings[0]!.session}`)).json()) as SessionContents;
    const take = contents.takes.at(-1)!;
    const marks = contents.marks.filter((mark) => mark.take === take.id).map(({ kind, text }) => `${kind}: ${text}`);
    expect(marks.slice(-2)[0]).toBe('zone: along the arm');
    expect(marks.at(-1)).toMatch(/^provocation: .*tap/);
    expect(marks).toContain('rig-proof: begin');
    expect(marks).toContain('rig-proof: end');
  });

  it('are in the review', async () => {
    const { page } = opened;
    await page.getByRole('link', { name: 'Review' }).click();
    await page.locator('.review-sessions a').first().click();
    await page.locator('.review-takes .rows a').last().click();
    await page.getByRole('radio', { name: 'Marks' }).check();
    await expect.poll(() => page.locator('.events tbody').textContent()).toMatch(/leads tugged.*near C2.*along the arm.*tap/);
    expect(opened.troubles).toEqual([]);
  });
});
