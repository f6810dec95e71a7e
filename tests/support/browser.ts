/** A real browser, and a page that reports whatever goes wrong in it. */
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { chromium, type Browser, type Page } from 'playwright-core';

export const SIZES = {
  desktop: { width: 1280, height: 800 },
  phone: { width: 390, height: 844 },
} as const;
export type Size = keyof typeof SIZES;

const CHROMIUM = process.env['CHROMIUM'] ?? '/usr/bin/chromium';

export function launchBrowser(args: string[] = []): Promise<Browser> {
  return chromium.launch({ executablePath: CHROMIUM, args: ['--no-sandbox', ...args] });
}

export interface OpenPage {
  readonly page: Page;
  /** Console errors and uncaught exceptions so far, and requests that left the page's own origin. */
  readonly troubles: string[];
  close(): Promise<void>;
}

interface PageOptions {
  readonly size?: Size;
  readonly dark?: boolean;
  readonly calm?: boolean;
  /** Runs in the page before anything of it. */
  readonly before?: () => void;
}

/** Opens an address in a browser context of its own. */
export async function openPage(browser: Browser, address: string, options: PageOptions = {}): Promise<OpenPage> {
  const size = options.size ?? 'desktop';
  const context = await browser.newContext({
    viewport: SIZES[size], hasTouch: size === 'phone', isMobile: size === 'phone', colorScheme: options.dark === true ? 'dark' : 'light',
    reducedMotion: options.calm === true ? 'reduce' : 'no-preference',
  });
  // Ends what hangs; not a measure of speed.
  context.setDefaultTimeout(60_000);
  const page = await context.newPage();
  const troubles: string[] = [];
  page.on('console', (message) => {
    if (message.type() === 'error' || message.type() === 'warning') troubles.push(message.text());
  });
  page.on('pageerror', (error) => troubles.push(String(error)));
  page.on('request', (request) => {
    const url = new URL(request.url());
    if (url.protocol !== 'data:' && url.host !== new URL(address).host) troubles.push(`request to ${request.url()}`);
  });
  if (options.before !== undefined) await page.addInitScript(options.before);
  await page.goto(address);
  return { page, troubles, close: () => context.close() };
}

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

/** Every finding of axe-core at WCAG 2.2 A and AA on the page as it is, as lines "rule: element". */
export async function accessibilityFindings(page: Page): Promise<string[]> {
  await page.evaluate(AXE);
  return page.evaluate(async () => {
    interface Result { violations: { id: string; nodes: { target: unknown[]; failureSummary?: string }[] }[] }
    const { axe } = window as unknown as { axe: { run(root: Document, options: object): Promise<Result> } };
    const { violations } = await axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] });
    return violations.flatMap(({ id, nodes }) => nodes.map((node) => `${id}: ${node.target.join(' ')} ${node.failureSummary ?? ''}`));
  });
}

/** What makes the page wider than the screen: the innermost elements that stick out, by how many CSS pixels, with their text. */
export function stickingOut(page: Page): Promise<string[]> {
  return page.evaluate(() => {
    const { clientWidth, scrollWidth } = document.documentElement;
    if (scrollWidth <= clientWidth) return [];
    // No named functions here: what runs the file may add calls to them that the page does not know.
    return [...document.querySelectorAll('body *')].map((element) => ({ element, over: Math.round(element.getBoundingClientRect().right - clientWidth) }))
      .filter(({ element, over }) => over > 0 && ![...element.children].some((child) => child.getBoundingClientRect().right > clientWidth))
      .map(({ element, over }) => `${element.tagName.toLowerCase()}.${element.className} +${over}: ${(element.textContent ?? '').slice(0, 60)}`);
  });
}

/** Reads every caution that is shown and says so, one after the other. @returns what they said */
export async function readCautions(page: Page): Promise<string[]> {
  const shown = page.locator('.readiness .caution');
  const read: string[] = [];
  for (;;) {
    // Without waiting: there may be none left.
    const [text] = await shown.allTextContents();
    if (text === undefined) return read;
    read.push(text);
    await shown.getByRole('button').click();
    for (let patience = 0; patience < 200 && (await shown.allTextContents())[0] === text; patience++) await page.waitForTimeout(25);
  }
}

/** Chooses what is wrong with the simulated harness. @param label  as it is listed */
export async function simulateFault(page: Page, label: string): Promise<void> {
  const choice = page.getByLabel('What is wrong with it');
  if (!(await choice.isVisible())) await page.getByText('Show or change what is wrong with it').click();
  await choice.selectOption({ label });
}
