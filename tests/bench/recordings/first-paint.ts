/** From the click on a take of a long session to its trace on the screen, in a real browser with the service as it is built. */
import { launchBrowser, openPage } from '../../support/browser.ts';
import { startService } from '../../support/service.ts';

const ROUNDS = 5;

/** @returns milliseconds from the click to the first frame in which the trace is seen, a fresh page each time */
export async function firstPaint(folder: string, session: string): Promise<number[]> {
  const service = await startService([], folder);
  const browser = await launchBrowser();
  const times: number[] = [];
  try {
    for (let round = 0; round < ROUNDS; round++) {
      const { page, close } = await openPage(browser, `${service.address}/#review/${session}`);
      await page.locator('.review-takes .rows a').first().waitFor();
      times.push(await page.evaluate(async () => {
        const trace = getComputedStyle(document.documentElement).getPropertyValue('--trace').trim();
        const colour = [1, 3, 5].map((at) => parseInt(trace.slice(at, at + 2), 16));
        const start = performance.now();
        document.querySelector<HTMLElement>('.review-takes .rows a')!.click();
        for (;;) {
          const canvas = document.querySelector<HTMLCanvasElement>('.trace-plot canvas');
          if (canvas !== null && canvas.width > 0) {
            const pixels = canvas.getContext('2d')!.getImageData(0, 0, canvas.width, canvas.height).data;
            for (let i = 0; i < pixels.length; i += 4) {
              if (pixels[i] === colour[0] && pixels[i + 1] === colour[1] && pixels[i + 2] === colour[2]) return performance.now() - start;
            }
          }
          await new Promise((resolve) => requestAnimationFrame(resolve));
        }
      }));
      await close();
    }
    return times;
  } finally {
    await browser.close();
    await service.stop();
  }
}
