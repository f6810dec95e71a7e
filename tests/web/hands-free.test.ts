/** Eyes on the harness: what goes to the loudspeaker, asserted where it leaves the page, and a run by keys alone. */
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { launchBrowser, openPage, type OpenPage } from '../support/browser.ts';
import { startService, type StartedService } from '../support/service.ts';

let browser: Browser;
let service: StartedService;
let opened: OpenPage;
/** What the page has asked for since it stands. */
const asked: string[] = [];

/** Keeps what is spoken, and the oscillators that sound. */
function listen(): void {
  const spoken: string[] = [];
  const oscillators: OscillatorNode[] = [];
  Object.assign(window, { spoken, oscillators });
  speechSynthesis.speak = (utterance) => void spoken.push(utterance.text);
  const original = AudioContext.prototype.createOscillator;
  AudioContext.prototype.createOscillator = function createOscillator(this: AudioContext) {
    const oscillator = original.call(this);
    oscillators.push(oscillator);
    return oscillator;
  };
}

beforeAll(async () => {
  browser = await launchBrowser();
  service = await startService(['--meter', 'simulated:alder7?seed=3']);
  opened = await openPage(browser, service.address, { before: listen });
  await opened.page.locator('.figures-value').waitFor();
  opened.page.on('request', (request) => asked.push(request.url()));
});
afterAll(async () => {
  await browser?.close();
  await service?.dispose();
});

const spoken = (): Promise<string[]> => opened.page.evaluate(() => (window as unknown as { spoken: string[] }).spoken);
const frequencies = (): Promise<number[]> =>
  opened.page.evaluate(() => (window as unknown as { oscillators: OscillatorNode[] }).oscillators.map((o) => o.frequency.value));

describe('a spot take with the voice, by keys alone', () => {
  it('says nothing before it is asked to', async () => {
    expect(await spoken()).toEqual([]);
  });

  it('says the check when asked, by its key', async () => {
    await opened.page.keyboard.press('r');
    await expect.poll(async () => (await spoken()).at(-1)).toMatch(/^Ground\. Red lead on CL minus, black lead on B minus\./);
  });

  it('says the settled reading with its verdict and the check that the search asks for next, with its reason, then the next check when that is chosen', async () => {
    const { page } = opened;
    await page.getByRole('button', { name: 'Voice', exact: true }).click();
    await page.evaluate(() => (document.activeElement as HTMLElement).blur());
    await page.keyboard.press('t');
    await expect.poll(async () => (await spoken()).join('\n')).toMatch(/1\.9\d* volts\. Fail\.\nNext: Ground LP minus\. About 1\.\d+ volts points to /);
    await page.getByText('Next by the search for the fault: Ground LP-').waitFor();
    await page.keyboard.press('a');
    await expect.poll(async () => (await spoken()).join('\n')).toMatch(/Ground\. Red lead on LP minus/);
    // The take went on to the next check without being started again.
    await page.getByRole('button', { name: /Stop take/ }).waitFor();
    await page.keyboard.press('t');
    await expect.poll(async () => (await spoken()).at(-1)).toMatch(/^Take ended\./);
    // Hundreds of messages came in by the websocket: none of them makes the page ask for anything.
    expect(asked).toEqual([]);
  });

  it('does nothing by single keys once they are turned off', async () => {
    const { page } = opened;
    await page.getByRole('button', { name: 'Settings' }).click();
    await page.getByLabel('Single keys work').uncheck();
    await page.keyboard.press('Escape');
    await page.keyboard.press('t');
    await page.waitForTimeout(400);
    expect(await page.getByRole('button', { name: /Start take/ }).count()).toBe(1);
    await page.getByRole('button', { name: 'Settings' }).click();
    await page.getByLabel('Single keys work').check();
    await page.keyboard.press('Escape');
  });

  it('lets any key, such as that of a foot switch, do an action', async () => {
    const { page } = opened;
    await page.getByRole('button', { name: 'Settings' }).click();
    await page.getByRole('button', { name: 'Change: Start or stop a take' }).click();
    await page.keyboard.press('PageDown');
    await page.keyboard.press('Escape');
    await page.getByRole('button', { name: 'Settings' }).waitFor();
    await page.keyboard.press('PageDown');
    await page.getByRole('button', { name: /Stop take/ }).waitFor();
    await page.keyboard.press('PageDown');
    await page.getByRole('button', { name: /Start take/ }).waitFor();
    // Space presses the button that has the focus; one that was touched does not keep it.
    await page.getByRole('button', { name: 'Settings' }).click();
    await page.getByRole('button', { name: 'Change: Start or stop a take' }).click();
    await page.keyboard.press(' ');
    await page.keyboard.press('Escape');
    await page.getByRole('button', { name: 'Voice', exact: true }).click();
    await page.keyboard.press(' ');
    await page.getByRole('button', { name: /Stop take/ }).waitFor();
    await page.keyboard.press(' ');
    await page.getByRole('button', { name: /Start take/ }).waitFor();
  });
});

describe('the tone', () => {
  it('follows the reading when the circuit changes', async () => {
    const { page } = opened;
    await page.getByRole('button', { name: 'Tone' }).click();
    const choose = async (name: RegExp) => {
      await page.getByRole('button', { name: 'Change check' }).click();
      await page.getByRole('searchbox').fill('B+');
      await page.locator('.check-list button').filter({ hasText: name }).first().click();
    };
    await expect.poll(async () => (await frequencies()).length).toBeGreaterThan(0);
    await expect.poll(async () => (await frequencies())[0]!).toBeLessThan(350);
    await choose(/^Supply B\+/);
    await expect.poll(async () => (await frequencies())[0]!).toBeGreaterThan(450);
  });

  it('caused no trouble in the browser', () => {
    expect(opened.troubles).toEqual([]);
  });
});
