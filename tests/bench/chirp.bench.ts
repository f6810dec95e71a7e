/**
 * How long from a dropout at the meter to the call for its chirp, with everything attached that a workshop has: eight meters on serial lines, four
 * browsers; and how much of it is the service's: until it has told a websocket client that does not draw. The judged meter's line is written by this bench, so that the time of the first bad reading is known; the chirp is asserted where
 * the page asks the browser for a sound.
 */
import type { Page } from 'playwright-core';
import { launchBrowser, openPage } from '../support/browser.ts';
import { openPty, type Pty } from '../support/pty.ts';
import { Dashboard, startService } from '../support/service.ts';

const METERS = 8;
const BROWSERS = 4;
const DROPOUTS = 30;
const INTERVAL_MS = 20;

/** When oscillators were asked for, on the clock of the machine, ms. */
function noteChirps(): void {
  const chirps: number[] = [];
  Object.assign(window, { chirps });
  // A proxy, since the loader of this bench gives functions names by a helper that the page does not have.
  AudioContext.prototype.createOscillator = new Proxy(AudioContext.prototype.createOscillator, {
    apply(target, context, args) {
      chirps.push(performance.timeOrigin + performance.now());
      return Reflect.apply(target, context, args) as OscillatorNode;
    },
  });
}

const chirpsOf = (page: Page): Promise<number[]> => page.evaluate(() => (window as unknown as { chirps: number[] }).chirps);
const pause = (ms: number): Promise<void> => new Promise((resolve) => setTimeout(resolve, ms));

async function run(): Promise<object> {
  const ptys: Pty[] = [];
  for (let i = 0; i < METERS; i++) ptys.push(await openPty());
  const service = await startService(ptys.flatMap(({ path }) => ['--meter', `serial:${path}?baud=115200&interval=${INTERVAL_MS / 1000}`]));
  const browser = await launchBrowser();
  let isOut = false;
  /** When the first bad reading of the dropout was written. */
  let firstOutAt: number | null = null;
  const sending = setInterval(() => {
    if (isOut) firstOutAt ??= performance.timeOrigin + performance.now();
    ptys.forEach((pty, i) => void pty.write(`${(i === 0 && isOut ? 0 : 12 + 0.004 * (Math.random() - 0.5)).toFixed(3)} V\r\n`).catch(() => undefined));
  }, INTERVAL_MS);
  try {
    const main = await Dashboard.open(service.address);
    let toldAt: number | null = null;
    main.socket.on('message', (data, isBinary) => {
      if (!isBinary && String(data).startsWith('{"type":"departure"')) toldAt ??= performance.timeOrigin + performance.now();
    });
    const pages: Page[] = [];
    for (let i = 0; i < BROWSERS; i++) {
      const { page } = await openPage(browser, service.address, { before: noteChirps });
      await page.getByRole('button', { name: 'Sound off' }).click();
      pages.push(page);
    }
    const check = { id: 'bench', kind: 'supply' as const, red: 'C1/3', black: 'B-', limits: { low: 11, high: null }, limitsBasis: 'bench', condition: '', instructions: [], cautions: [] };
    await main.ask({ type: 'start-take', check, watching: 'wiggle' });
    await pause(4_000);
    const delaysMs: number[] = [];
    const toldMs: number[] = [];
    const heardMs: number[] = [];
    let missed = 0;
    for (let i = 0; i < DROPOUTS; i++) {
      const before = (await Promise.all(pages.map(chirpsOf))).map((chirps) => chirps.length);
      toldAt = null;
      firstOutAt = null;
      isOut = true;
      await pause(3 * INTERVAL_MS);
      isOut = false;
      await pause(1_200);
      const at = firstOutAt! as number;
      const told = toldAt as number | null;
      if (told !== null) toldMs.push(told - at);
      (await Promise.all(pages.map(chirpsOf))).forEach((chirps, k) => {
        const first = chirps[before[k]!];
        if (first === undefined) missed++;
        else {
          delaysMs.push(first - at);
          if (told !== null) heardMs.push(first - told);
        }
      });
    }
    const spreadOf = (all: readonly number[]): object => {
      const sorted = [...all].sort((a, b) => a - b);
      const quantile = (share: number): number | null => (sorted.length === 0 ? null : Math.round(sorted[Math.floor(share * (sorted.length - 1))]!));
      return { median: quantile(0.5), p95: quantile(0.95), worst: quantile(1) };
    };
    return {
      meters: METERS, browsers: BROWSERS, readingsPerSecond: METERS * 1000 / INTERVAL_MS, dropouts: DROPOUTS, missed,
      firstBadReadingToToldMs: spreadOf(toldMs), toldToChirpMs: spreadOf(heardMs), firstBadReadingToChirpMs: spreadOf(delaysMs),
    };
  } finally {
    clearInterval(sending);
    await browser.close();
    await service.dispose();
    for (const pty of ptys) await pty.close();
  }
}

export default { name: 'chirp', run };
