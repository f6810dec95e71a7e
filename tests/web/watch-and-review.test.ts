/**
 * The main job as a technician does it: a wiggle take on the simulated meter, every dropout seen and heard, the verdict,
 * and the take in review. The service, the browser and the recording are real.
 */
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { FoldingSchedule } from '../../server/demo/folding.ts';
import type { Judgement } from '../../server/diagnosis/judgement.ts';
import type { SessionContents, SessionListing } from '../../server/live/protocol.ts';
import { accessibilityFindings, launchBrowser, openPage, simulateFault, stickingOut, type OpenPage } from '../support/browser.ts';
import { startService, type StartedService } from '../support/service.ts';

const seed = Date.now() % 100_000;
let browser: Browser;
let service: StartedService;

beforeAll(async () => {
  browser = await launchBrowser();
  service = await startService(['--meter', `simulated:alder7?seed=${seed}`]);
});
afterAll(async () => {
  await browser?.close();
  await service?.dispose();
});

/** Counts, in the page, what goes to the loudspeaker. */
function listenToSound(): void {
  const heard: { at: number; frequency: number }[] = [];
  Object.assign(window, { heard });
  const original = AudioContext.prototype.createOscillator;
  AudioContext.prototype.createOscillator = function createOscillator(this: AudioContext) {
    const oscillator = original.call(this);
    const start = oscillator.start.bind(oscillator);
    oscillator.start = (when?: number) => {
      heard.push({ at: performance.now(), frequency: oscillator.frequency.value });
      start(when);
    };
    return oscillator;
  };
}

function soundsHeard({ page }: OpenPage): Promise<number> {
  return page.evaluate(() => (window as unknown as { heard: unknown[] }).heard.length);
}

function dropoutCount({ page }: OpenPage): Promise<number> {
  return page.locator('.watch .verdict-count strong').textContent().then(Number);
}

async function newestTake(address: string): Promise<{ session: string; start: number; end: number; judgement: Judgement; watching: string; verdict: string }> {
  const listings = (await (await fetch(`${address}/api/sessions`)).json()) as SessionListing[];
  const session = listings[0]!.session;
  const contents = (await (await fetch(`${address}/api/sessions/${session}`)).json()) as SessionContents;
  const take = contents.takes.at(-1)!;
  return { session, start: take.start, end: take.end!, judgement: take.judgement, watching: take.watching, verdict: take.verdict };
}

/** A chirp is two notes. */
const NOTES_A_CHIRP = 2;

describe(`a wiggle take on the simulated meter (seed ${seed})`, () => {
  let opened: OpenPage;
  beforeAll(async () => {
    opened = await openPage(browser, service.address, { before: listenToSound });
  });
  afterAll(() => opened?.close());

  it('shows a reading without any preparation, names the simulated meter, and says that sound is off', async () => {
    const { page } = opened;
    await expect.poll(() => page.locator('.figures-value').textContent()).toMatch(/^−?\d+\.\d+ V$/);
    expect(await page.getByText('Simulated meter').count()).toBeGreaterThan(0);
    expect(await page.getByRole('button', { name: 'Sound off' }).count()).toBe(1);
    expect(await page.locator('h1').textContent()).toContain('Red lead on CL-, black lead on B-');
  });

  it('shows and chirps each dropout of the schedule, and ends with the verdict intermittent', async () => {
    const { page } = opened;
    await simulateFault(page, 'Crimp at splice S3 good at rest, opens as the gantry folds');
    await page.getByRole('radio', { name: 'Wiggle' }).check();
    await page.getByRole('button', { name: 'Sound off' }).click();
    await page.getByRole('button', { name: 'Sound on' }).waitFor();
    const quietBefore = await soundsHeard(opened);
    await page.getByRole('button', { name: /Start take/ }).click();
    // Three openings take at most 27 s.
    await expect.poll(() => dropoutCount(opened), { timeout: 60_000, interval: 200 }).toBeGreaterThanOrEqual(3);
    await page.keyboard.press('m');
    // A quiet second, so that no dropout is half seen at the end.
    await page.waitForTimeout(1200);
    await page.keyboard.press('t');
    await page.getByRole('button', { name: /Start take/ }).waitFor();
    await expect.poll(() => page.locator('.verdict-word').textContent()).toMatch(/Intermittent.*ended/);

    const take = await newestTake(service.address);
    const seen = take.judgement.dropouts;
    // The simulated circuit opens by a schedule in meter time, which begins with the service; compare the spacing to find the offset.
    const truth = new FoldingSchedule(seed).opensUntil(take.end + 10);
    const offset = bestOffset(truth.map((open) => open.start), seen.map((dropout) => dropout.start));
    const expected = truth.filter((open) => open.start - offset > take.start + 0.5 && open.end - offset < take.end - 0.5);
    expect(Math.abs(offset)).toBeLessThan(2);
    for (const open of expected) {
      expect(seen.filter((dropout) => dropout.start - 0.25 <= open.end - offset && dropout.end + 0.25 >= open.start - offset), `opening at ${open.start}`).toHaveLength(1);
    }
    expect(seen.length - expected.length).toBeLessThanOrEqual(1);
    expect(await dropoutCount(opened)).toBe(seen.length);
    const departures = seen.reduce((sum, dropout) => sum + dropout.count, 0);
    expect((await soundsHeard(opened)) - quietBefore).toBe(NOTES_A_CHIRP * departures);
    expect(take.verdict).toBe('intermittent');
  });

  it('opens in review, where a click on a dropout goes to it', async () => {
    const { page } = opened;
    await page.getByRole('link', { name: 'Review' }).click();
    await page.locator('.review-sessions a').first().click();
    await page.locator('.review-takes .rows a').first().click();
    const take = await newestTake(service.address);
    await page.getByRole('radio', { name: 'Dropouts' }).check();
    await expect.poll(() => page.locator('.events tbody tr').count()).toBe(take.judgement.dropouts.length);
    await page.getByRole('button', { name: 'Go to dropout 2' }).click();
    const second = take.judgement.dropouts[1]!.start - take.start;
    await expect.poll(async () => {
      const [from, to] = (await page.locator('.view-text').textContent())!.split(' to ').map(clockSeconds);
      return from! < second && second < to! && to! - from! < 10;
    }).toBe(true);
    expect(await page.getByRole('button', { name: 'Go to dropout 2' }).getAttribute('aria-pressed')).toBe('true');
    // The mark that was set by key is there too.
    expect(await page.locator('.lane canvas').getAttribute('aria-label')).toContain('1 mark');
  });

  it('goes from event to event by button and key, within what the filter shows', async () => {
    const { page } = opened;
    const chosen = () => page.locator('.events .is-chosen th').textContent();
    await page.getByRole('button', { name: 'Next', exact: true }).click();
    await expect.poll(chosen).toBe('Dropout 3');
    await page.locator('.trace-plot').focus();
    await page.keyboard.press(',');
    await page.keyboard.press(',');
    await expect.poll(chosen).toBe('Dropout 1');
    await page.getByRole('radio', { name: 'Marks' }).check();
    await page.getByRole('button', { name: 'Next', exact: true }).click();
    await expect.poll(chosen).toBe('Mark 1');
    expect(await page.locator('.events tbody tr').count()).toBe(1);
  });

  it('reads single samples by tap and key', async () => {
    const { page } = opened;
    const read = () => page.locator('.cursor-text').textContent();
    const atTheMark = (await read())!;
    // In the middle, which the axis beside it makes another time than that of the mark.
    await page.locator('.trace-plot').click();
    await expect.poll(read).not.toBe(atTheMark);
    await page.waitForLoadState('networkidle');
    await expect.poll(() => page.getByText('Loading this part').count()).toBe(0);
    await expect.poll(read).toMatch(/^\d+:\d\d\.\d{3}: −?\d+\.\d+ V$/);
    const before = clockSeconds((await read())!.split(': ')[0]!);
    await page.keyboard.press('Shift+ArrowRight');
    await page.keyboard.press('Shift+ArrowRight');
    const moved = async () => clockSeconds((await read())!.split(': ')[0]!) - before;
    // Two samples of a tenth of a second, from a place within one of them.
    await expect.poll(moved).toBeGreaterThan(0.09);
    expect(await moved()).toBeLessThan(0.25);
  });

  it('plays the take faster than it was, with a chirp at each dropout', async () => {
    const { page } = opened;
    const take = await newestTake(service.address);
    const before = await soundsHeard(opened);
    await page.getByLabel('Speed').first().selectOption('60');
    const plot = page.locator('.trace-plot');
    await plot.focus();
    await page.keyboard.press('Home');
    const box = (await plot.boundingBox())!;
    // The start of the take, just right of the axis.
    await page.mouse.click(box.x + 66, box.y + 60);
    await page.keyboard.press(' ');
    await page.getByRole('button', { name: 'Play' }).waitFor();
    // One more oscillator is the tone.
    await expect.poll(async () => (await soundsHeard(opened)) - before).toBeGreaterThanOrEqual(NOTES_A_CHIRP);
    const sounds = (await soundsHeard(opened)) - before;
    expect(sounds).toBeLessThanOrEqual(NOTES_A_CHIRP * take.judgement.dropouts.length + 1);
  });

  it('moves and zooms by keys, wheel and drag', async () => {
    const { page } = opened;
    const span = async () => {
      const [from, to] = (await page.locator('.view-text').textContent())!.split(' to ').map(clockSeconds);
      return { from: from!, to: to!, length: to! - from! };
    };
    const plot = page.locator('.trace-plot');
    await plot.focus();
    await page.keyboard.press('Home');
    await expect.poll(async () => (await span()).from).toBe(0);
    const whole = await span();
    await page.keyboard.press('+');
    await expect.poll(async () => (await span()).length).toBeCloseTo(whole.length * 0.6, 0);
    const before = await span();
    await page.keyboard.press('ArrowRight');
    await expect.poll(async () => (await span()).from).toBeGreaterThan(before.from);
    const box = (await plot.boundingBox())!;
    const beforeDrag = await span();
    await page.mouse.move(box.x + box.width / 2, box.y + 60);
    await page.mouse.down();
    await page.mouse.move(box.x + box.width / 2 + 150, box.y + 60, { steps: 4 });
    await page.mouse.up();
    await expect.poll(async () => (await span()).from).toBeLessThan(beforeDrag.from);
    const beforeWheel = await span();
    await page.mouse.wheel(0, -400);
    await expect.poll(async () => (await span()).length).toBeLessThan(beforeWheel.length);
  });

  it('a clean control ends without a dropout and without a chirp', async () => {
    const { page } = opened;
    await page.getByRole('link', { name: 'Watch' }).click();
    await simulateFault(page, 'No fault');
    // The circuit is whole again at once; the take begins after what the meter still averages.
    await page.waitForTimeout(500);
    const before = await soundsHeard(opened);
    await page.getByRole('button', { name: /Start take/ }).click();
    await page.waitForTimeout(10_000);
    await page.keyboard.press('f');
    await page.keyboard.press('f');
    await expect.poll(() => page.getByRole('button', { name: /Flexed once/ }).textContent()).toContain('2');
    await page.getByRole('button', { name: /Stop take/ }).click();
    await page.getByRole('button', { name: /Start take/ }).waitFor();
    const take = await newestTake(service.address);
    expect(take.judgement.dropouts).toEqual([]);
    expect(await dropoutCount(opened)).toBe(0);
    expect(take.verdict).toBe('undecided');
    expect(await soundsHeard(opened)).toBe(before);
  });

  it('compares the two takes as before and after', async () => {
    const { page } = opened;
    await page.getByRole('link', { name: 'Review' }).click();
    await page.locator('.review-sessions a').first().click();
    await page.locator('.review-takes .rows a').nth(1).click();
    await page.getByLabel('Compare with').selectOption({ index: 1 });
    await page.locator('.before-after').getByText(/If nothing had changed/).waitFor();
    expect(await page.locator('.trace-plot').count()).toBe(2);
    const cells = await page.locator('.before-after tbody tr').allTextContents();
    expect(cells[0]).toMatch(/^Before: Take 1Intermittent/);
    expect(cells[1]).toMatch(/^After: Take 2Undecided.*0/);
    expect(await accessibilityFindings(page)).toEqual([]);
    expect(await stickingOut(page)).toEqual([]);
  });

  it('reports no trouble in the browser and asks nobody else for anything', () => {
    expect(opened.troubles).toEqual([]);
  });
});

describe.each(['desktop', 'phone'] as const)('every screen at %s size', (size) => {
  it.each([false, true])('is free of accessibility findings and fits the screen (dark: %s)', async (dark) => {
    const opened = await openPage(browser, service.address, { size, dark });
    const { page } = opened;
    const look = async (screen: string) => {
      expect(await accessibilityFindings(page), screen).toEqual([]);
      expect(await stickingOut(page), `${screen}: wider than the screen`).toEqual([]);
    };
    await page.locator('.figures-value').waitFor();
    await look('watch');
    await page.getByRole('button', { name: 'Change check' }).click();
    await look('choice of a check');
    await page.keyboard.press('Escape');
    await page.getByRole('button', { name: 'Settings' }).click();
    await look('settings');
    await page.keyboard.press('Escape');
    await page.getByRole('link', { name: 'Review' }).click();
    await page.locator('.review-sessions a').first().waitFor();
    await look('sessions');
    await page.locator('.review-sessions a').first().click();
    await page.locator('.review-takes .rows a').first().waitFor();
    await look('takes');
    await page.locator('.review-takes .rows a').first().click();
    await page.locator('.view-text').waitFor();
    await look('one take');
    expect(opened.troubles).toEqual([]);
    await opened.close();
  });
});

describe('when the service is killed', () => {
  it('the page says so, refuses to pretend, and recovers by itself', async () => {
    const first = await startService([]);
    const port = Number(new URL(first.address).port);
    const opened = await openPage(browser, first.address);
    const { page } = opened;
    await page.locator('.figures-value').waitFor();
    await first.stop('SIGKILL');
    await page.getByText(/No contact with the service for/).waitFor();
    await expect.poll(() => page.locator('.contacts').textContent()).toMatch(/Service lost/);
    await page.getByRole('button', { name: /Start take/ }).click();
    await page.getByRole('alert').getByText(/nothing was done/).waitFor();
    await expect.poll(() => page.locator('.figures-note').textContent()).toMatch(/\d s old/);
    const second = await startService([], first.recordings, port);
    await page.getByText('connected').waitFor();
    await page.getByRole('button', { name: /Start take/ }).click();
    await page.getByRole('button', { name: /Stop take/ }).waitFor();
    await opened.close();
    await second.dispose();
    await first.dispose();
  });
});

/** The shift of `truth` against `seen` at which most of `seen` have a partner. */
function bestOffset(truth: readonly number[], seen: readonly number[]): number {
  let best = { offset: 0, matched: -1, error: Infinity };
  for (const start of truth) {
    for (const at of seen) {
      const offset = start - at;
      const errors = seen.map((one) => Math.min(...truth.map((t) => Math.abs(t - offset - one)))).filter((error) => error < 0.3);
      const error = errors.reduce((sum, e) => sum + e, 0);
      if (errors.length > best.matched || (errors.length === best.matched && error < best.error)) best = { offset, matched: errors.length, error };
    }
  }
  return best.offset;
}

function clockSeconds(text: string): number {
  return text.split(':').reduce((sum, part) => sum * 60 + Number(part), 0);
}
