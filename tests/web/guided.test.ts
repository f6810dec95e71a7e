/**
 * The guided flow on a real serial line: nothing is captured while the leads are being placed, each contact is captured once, and one key, pedal,
 * touch or word does each step. What is spoken is asserted where it leaves the page; words come in where the browser's own recognition would
 * hand them over, since no recognition runs without a microphone and its maker's servers.
 */
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Check } from '../../server/session/session.ts';
import { Random } from '../signals/random.ts';
import { accessibilityFindings, launchBrowser, openPage, stickingOut, type OpenPage } from '../support/browser.ts';
import { openPty, type Pty } from '../support/pty.ts';
import { Dashboard, startService, type StartedService } from '../support/service.ts';

let browser: Browser;
let service: StartedService;
let opened: OpenPage;
let pty: Pty;
let other: Dashboard;
/** What the meter shows next: volts. */
let shows: () => number = () => 0;
let shownUnit = 'V';
let sending: NodeJS.Timeout;

function listenAndSpeak(): void {
  const spoken: string[] = [];
  speechSynthesis.speak = (utterance) => void spoken.push(utterance.text);
  class FakeRecognition {
    static made: FakeRecognition[] = [];
    starts = 0;
    onresult: ((event: object) => void) | null = null;
    onerror: ((event: object) => void) | null = null;
    onend: (() => void) | null = null;
    constructor() { FakeRecognition.made.push(this); }
    start(): void { this.starts++; }
    abort(): void { this.onend?.(); }
    say(transcript: string): void { this.onresult?.({ resultIndex: 0, results: [{ isFinal: true, 0: { transcript } }] }); }
  }
  Object.assign(window, { spoken, FakeRecognition, SpeechRecognition: FakeRecognition });
}

beforeAll(async () => {
  browser = await launchBrowser();
  pty = await openPty();
  sending = setInterval(() => void pty.write(`${shows().toFixed(2)} ${shownUnit}\r\n`).catch(() => undefined), 50);
  service = await startService(['--meter', `serial:${pty.path}?baud=9600&accuracy=0.5%25+2`]);
  other = await Dashboard.open(service.address);
  opened = await openPage(browser, service.address, { before: listenAndSpeak });
  await opened.page.locator('.figures-value').waitFor();
  await opened.page.getByRole('button', { name: 'Voice', exact: true }).click();
});
afterAll(async () => {
  clearInterval(sending);
  await browser?.close();
  await service?.dispose();
  await pty?.close();
});

const spoken = (): Promise<string[]> => opened.page.evaluate(() => (window as unknown as { spoken: string[] }).spoken);
const settledWords = async (): Promise<string[]> => (await spoken()).filter((sentence) => /^\S+ volts\. /.test(sentence));
/** Last digits that flicker, but never to one side for long: what is captured is `volts`. */
const FLICKER = [0, 1, 0, 0, -1, 0];
let readings = 0;
const steady = (volts: number) => (): number => volts + (FLICKER[readings++ % FLICKER.length] as number) / 100;
const random = new Random(11);
/** Contact made and broken, never for long: plateaus of three readings, each 2 to 10 V from the one before it, since two alike would be a contact held. */
let plateau = { left: 0, volts: 0 };
const probing = (): number => {
  plateau = plateau.left > 0 ? { ...plateau, left: plateau.left - 1 } : { left: 2, volts: (plateau.volts + random.between(2, 10)) % 12 };
  return plateau.volts;
};
const check = (red: string): Check => ({
  id: `supply ${red}`, kind: 'supply', red, black: 'B-', limits: { low: 11, high: null }, limitsBasis: 'typed by the user', condition: '', instructions: [], cautions: [],
});
const pause = (ms: number): Promise<void> => opened.page.waitForTimeout(ms);

describe('a spot take', () => {
  it('captures nothing while the leads are being placed, and accepts nothing then', async () => {
    const { page } = opened;
    shows = probing;
    await other.ask({ type: 'choose', check: check('C1/3'), watching: 'spot' });
    await page.getByText('Red lead on C1/3').first().waitFor();
    await page.evaluate(() => (document.activeElement as HTMLElement).blur());
    await page.keyboard.press('a');
    await page.getByRole('button', { name: /Accept/ }).waitFor();
    await pause(1500);
    expect(await page.getByRole('button', { name: /Accept/ }).isDisabled()).toBe(true);
    await page.keyboard.press('a');
    await page.getByText('Nothing captured yet: hold the leads still, or skip this check.').nth(1).waitFor();
    expect(other.state.take!.check.id).toBe('supply C1/3');
    expect(await settledWords()).toEqual([]);
    await page.getByRole('button', { name: 'Dismiss' }).click();
  });

  it('captures each contact once, says verdict and next check, and is armed again when the leads are lifted', async () => {
    const { page } = opened;
    shows = steady(12.1);
    await page.getByText(/^Captured: 12\.1\d* V, pass$/).waitFor();
    // Said when the search for the fault has been worked out, and not again.
    const next = async (): Promise<number> => (await spoken()).filter((sentence) => sentence.startsWith('Next: ')).length;
    await expect.poll(next).toBe(1);
    await pause(1500);
    expect(await next()).toBe(1);
    expect(await settledWords()).toEqual([expect.stringMatching(/^12\.1\d* volts\. Pass\.$/)]);
    // Lifted for longer than leads in the air are given, and still the contact is what counts.
    shows = steady(0);
    await pause(4000);
    expect(await settledWords()).toHaveLength(1);
    await page.getByText(/^Captured: 12\.1\d* V, pass$/).waitFor();
    shows = steady(9.3);
    await page.getByText(/^Captured: 9\.3\d* V, fail$/).waitFor();
    await expect.poll(settledWords).toEqual([expect.anything(), expect.stringMatching(/^9\.3\d* volts\. Fail\.$/)]);
    expect(await accessibilityFindings(page)).toEqual([]);
    expect(await stickingOut(page)).toEqual([]);
  });

  it('takes what leads in the air would read as well only when it stands', async () => {
    const { page } = opened;
    shows = steady(0);
    await pause(1000);
    await page.getByRole('button', { name: /Repeat/ }).click();
    await pause(1500);
    expect(await page.getByRole('button', { name: /Accept/ }).isDisabled()).toBe(true);
    await page.getByText(/^Captured: (−|-)?0\.00 V, fail$/).waitFor();
  });

  it('goes on by one key, repeats in a take of its own, and notes what was skipped', async () => {
    const { page } = opened;
    const first = other.state.take!.id;
    await page.keyboard.press('r');
    await other.until(() => other.state.take?.id === first + 1, 'the repeated take');
    expect(other.state.take!.check.id).toBe('supply C1/3');
    shows = steady(12.1);
    await page.getByText(/^Captured: 12\.1/).waitFor();
    await page.keyboard.press('a');
    await other.until(() => other.state.take?.id === first + 2, 'the next take');
    expect(other.state.take!.check.id).not.toBe('supply C1/3');
    const skipped = other.state.take!.check.id;
    // This page may hear of it a moment after the other one.
    await expect.poll(() => page.getByRole('heading', { level: 1 }).textContent()).not.toContain('C1/3');
    await page.keyboard.press('n');
    await other.until(() => other.state.take !== null && other.state.take.id === first + 3, 'the one after');
    expect(other.state.take!.check.id).not.toBe(skipped);
    await page.keyboard.press('t');
    await other.until(() => other.state.take === null, 'the end');
  });
});

describe('a meter or leads that are wrong for the check', () => {
  const ohms: Check = { ...check('C1/3'), id: 'continuity C1/3', kind: 'continuity', limits: { low: null, high: 1 } };
  const warned = (text: RegExp): Promise<void> => opened.page.locator('.warnings').getByText(text).waitFor();

  it('is said instead of judged: leads reversed, wrong function, a live circuit on ohms', async () => {
    const { page } = opened;
    shows = steady(-12.1);
    await other.ask({ type: 'start-take', check: check('C1/3'), watching: 'spot' });
    await warned(/wrong way round/);
    shows = steady(12.1);
    await other.ask({ type: 'choose', check: ohms, watching: 'spot' });
    await warned(/this check needs/);
    await page.getByText('Undecided').first().waitFor();
    shownUnit = 'Ohm';
    shows = () => random.between(-3, 1);
    await pause(500);
    await other.ask({ type: 'choose', check: ohms, watching: 'spot' });
    await warned(/behaves like a live one/);
    const running = other.state.take!.id;
    await other.until(() => other.judgement?.take === running && other.judgement.judgement.samples > 10, 'readings');
    expect(other.judgement!.judgement.verdict).toBe('undecided');
    shownUnit = 'V';
    await other.ask({ type: 'stop-take' });
  });
});

describe('control by voice', () => {
  const say = (transcript: string): Promise<void> =>
    opened.page.evaluate((words) => (window as unknown as { FakeRecognition: { made: { say(words: string): void }[] } }).FakeRecognition.made.at(-1)!.say(words), transcript);

  it('is off, says before it listens where the sound may go, and shows its words', async () => {
    const { page } = opened;
    await page.getByRole('button', { name: 'Listen', exact: true }).click();
    await page.getByText('servers of their makers').waitFor();
    for (const word of ['accept', 'repeat', 'skip', 'mark', 'zone …']) await page.locator('.spoken-words dt').filter({ hasText: `“${word}”` }).waitFor();
    expect(await page.evaluate(() => (window as unknown as { FakeRecognition: { made: unknown[] } }).FakeRecognition.made.length)).toBe(0);
    expect(await accessibilityFindings(page)).toEqual([]);
    await page.getByRole('button', { name: 'Start listening' }).click();
    await page.getByText('Listening.').first().waitFor();
    await page.keyboard.press('Escape');
  });

  it('does what the word says: begins, marks, names a zone, skips', async () => {
    const { page } = opened;
    await other.ask({ type: 'name-zones', zones: ['rail', 'hinge', 'seat'] });
    await other.ask({ type: 'choose', check: check('C1/3'), watching: 'wiggle' });
    await page.getByRole('button', { name: /hinge/ }).waitFor();
    await say('accept');
    await other.until(() => other.state.take?.watching === 'wiggle', 'the take');
    await page.getByRole('button', { name: /Stop take/ }).waitFor();
    await say('mark please');
    await other.until(() => other.state.marks.length === 1, 'the mark');
    await say('zone two');
    await other.until(() => other.state.wiggle.zone === 'hinge', 'zone 2');
    await say('zone 2');
    await page.getByText('Heard: “zone 2”: zone 2').waitFor();
    expect(other.state.wiggle.zone).toBe('hinge');
    await page.locator('.zones button[aria-pressed="true"]').waitFor();
    await say('hands off');
    await other.until(() => other.state.wiggle.zone === null, 'hands off');
    await say('zone nine');
    await page.getByText('There is no zone 9.').waitFor();
    await say('what a lovely remark');
    await page.getByText('Heard: “what a lovely remark”, no command').waitFor();
    expect(other.state.marks.filter(({ kind }) => kind === undefined)).toHaveLength(1);
    await say('skip');
    await other.until(() => other.state.check.id !== 'supply C1/3', 'the next check');
    await other.ask({ type: 'stop-take' });
  });

  it('does not take the voice of the page for a command', async () => {
    await opened.page.evaluate(() => Object.defineProperty(speechSynthesis, 'speaking', { value: true, configurable: true }));
    await say('accept');
    await pause(400);
    expect(other.state.take).toBeNull();
    await opened.page.evaluate(() => Object.defineProperty(speechSynthesis, 'speaking', { value: false, configurable: true }));
  });

  it('goes on after a silence, and stops when the microphone is not allowed', async () => {
    const { page } = opened;
    const starts = () => page.evaluate(() => (window as unknown as { FakeRecognition: { made: { starts: number }[] } }).FakeRecognition.made.at(-1)!.starts);
    await page.evaluate(() => (window as unknown as { FakeRecognition: { made: { onend: () => void }[] } }).FakeRecognition.made.at(-1)!.onend());
    await expect.poll(starts).toBe(2);
    await page.evaluate(() => (window as unknown as { FakeRecognition: { made: { onerror: (event: object) => void }[] } }).FakeRecognition.made.at(-1)!.onerror({ error: 'not-allowed' }));
    await page.getByText('The microphone is not allowed').waitFor();
    await pause(700);
    expect(await starts()).toBe(2);
    expect(opened.troubles).toEqual([]);
  });
});
