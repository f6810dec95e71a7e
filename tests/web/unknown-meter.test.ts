/** Finding out and teaching a meter on a real serial port, in a real browser. */
import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { accessibilityFindings, launchBrowser, openPage, SIZES, stickingOut, type OpenPage } from '../support/browser.ts';
import { openPty, type Pty } from '../support/pty.ts';
import { scpiInstrument } from '../support/scpi-instrument.ts';
import { Dashboard, startService, type StartedService } from '../support/service.ts';
import { displayStates, unknownMeter } from '../support/unknown-meters.ts';

let browser: Browser;
let service: StartedService;
let other: Dashboard;
const cleanUp: (() => Promise<unknown> | void)[] = [];

beforeAll(async () => {
  browser = await launchBrowser();
  service = await startService([]);
  other = await Dashboard.open(service.address);
});
afterEach(async () => {
  for (const clean of cleanUp.splice(0).reverse()) await clean();
});
afterAll(async () => {
  other?.close();
  await browser?.close();
  await service?.dispose();
});

async function openMeters(size: 'desktop' | 'phone', dark = false): Promise<OpenPage> {
  const opened = await openPage(browser, `${service.address}/#meters`, { size, dark });
  cleanUp.push(() => opened.close());
  return opened;
}

async function port(): Promise<Pty> {
  const pty = await openPty();
  cleanUp.push(() => pty.close());
  return pty;
}

function talk(pty: Pty, next: () => string | Uint8Array, every: number): void {
  const timer = setInterval(() => void pty.write(next()).catch(() => undefined), every);
  cleanUp.push(() => clearInterval(timer));
}

async function findOut(page: Page, address: string): Promise<void> {
  await page.getByLabel('Address of the meter').fill(address);
  await page.locator('.meter-address').getByRole('button', { name: 'Find out what it says' }).click();
}

async function check({ page, troubles }: OpenPage): Promise<void> {
  expect(await accessibilityFindings(page)).toEqual([]);
  expect(await stickingOut(page)).toEqual([]);
  expect(troubles).toEqual([]);
}

describe('finding out what a meter says', () => {
  it('shows its readings with the settings, and reads it by one press', async () => {
    const pty = await port();
    talk(pty, () => '-123.4567 mV DC\r\n', 100);
    const opened = await openMeters('desktop');
    const { page } = opened;
    await findOut(page, `serial:${pty.path}`);
    const panel = page.getByRole('region', { name: 'Finding out what a meter says' });
    await panel.getByText('sure', { exact: true }).first().waitFor();
    expect(await panel.locator('.guess-readings').first().textContent()).toContain('−123.4567 mV DC');
    expect(await panel.innerText()).toContain('baud 9600');
    await check(opened);
    await panel.getByRole('button', { name: /Read this meter/ }).first().click();
    await panel.waitFor({ state: 'detached' });
    await other.until(() => other.state.meters.some((meter) => meter.address === `serial:${pty.path}?baud=9600` && meter.counts.readings > 0), 'the meter to be read');
    // It takes the place of the simulated one, and all its digits have room.
    await page.getByRole('link', { name: 'Watch' }).click();
    await page.locator('.figures-value').getByText('−123.4567').waitFor();
    // What it reads is real, though the simulated one is still there with its harness.
    await page.getByText('Checks and limits are those of the practice harness, not of your vehicle.').waitFor();
    expect(await page.getByText('For practice').count()).toBe(0);
    for (const size of [SIZES.phone, SIZES.desktop]) {
      await page.setViewportSize(size);
      await expect.poll(() => stickingOut(page)).toEqual([]);
    }
  });

  it('asks before it sends, can be stopped, and says why a port does not open', async () => {
    const pty = await port();
    let heard = 0;
    const instrument = scpiInstrument({ identity: 'MA,IN,0,VER', reading: () => '1' }, (text) => void pty.write(text).catch(() => undefined));
    pty.onReceived((bytes) => { heard += bytes.length; instrument.receive(bytes); });
    const opened = await openMeters('phone', true);
    const { page } = opened;
    const panel = page.getByRole('region', { name: 'Finding out what a meter says' });
    await findOut(page, `serial:${pty.path}`);
    await panel.getByText(/Listening at \d+ baud; nothing is sent/).waitFor();
    await panel.getByText(/Nothing was heard/).waitFor();
    expect(heard).toBe(0);
    await check(opened);
    await panel.getByRole('button', { name: 'Ask it' }).click();
    await panel.getByText('It says that it is MA,IN,0,VER.').waitFor();
    await panel.getByRole('button', { name: 'Close' }).click();
    await panel.waitFor({ state: 'detached' });
    await findOut(page, 'serial:/dev/there-is-no-such-port');
    await panel.getByText('There is no port at this address. Plug the meter in').waitFor();
    await findOut(page, `serial:${pty.path}`);
    await panel.getByRole('button', { name: 'Stop' }).click();
    await panel.waitFor({ state: 'detached' });
    await check(opened);
  });
});

describe('a port that another has open', () => {
  it('says so on the meter’s card, and what to do', async () => {
    const pty = await port();
    talk(pty, () => '-123.4567 mV DC\r\n', 100);
    const opened = await openMeters('phone');
    const { page } = opened;
    for (const label of ['first', 'second']) {
      await other.ask({ type: 'attach-meter', address: `serial:${pty.path}?baud=9600&label=${label}` });
      await other.until(() => other.state.meters.some((meter) => meter.label === label && meter.link.state !== 'opening'), 'the port to be tried');
    }
    const card = page.locator('.meter-card', { has: page.getByRole('heading', { name: 'second' }) });
    await card.getByRole('alert').getByText(/Another program has the port open. Close whatever else reads/).waitFor();
    await check(opened);
    await page.getByRole('link', { name: 'Watch' }).click();
    await page.locator('.figures-value').getByText('−123.4567').waitFor();
    await check(opened);
    for (const { index, label } of other.state.meters) if (label === 'first' || label === 'second') await other.ask({ type: 'detach-meter', meter: index });
  });
});

describe('teaching a meter', () => {
  it('of frames: kept frames, what the display showed, a layout that reads every value right, taken out as a file', async () => {
    const pty = await port();
    const meter = unknownMeter('integer-low-first', 20_261_127);
    const states = displayStates(31, 24);
    const shownOf = new Map<string, string>();
    let n = 0;
    // The display changes every so often, as the user measures this and that; frames come all the time.
    talk(pty, () => {
      const state = states[Math.floor(n++ / 12) % states.length]!;
      const frame = meter.frame(state);
      shownOf.set(Buffer.from(frame).toString('hex'), meter.shown(state));
      return frame;
    }, 60);
    const opened = await openMeters('desktop');
    const { page } = opened;
    await findOut(page, `serial:${pty.path}?label=odd`);
    const panel = page.getByRole('region', { name: 'Finding out what a meter says' });
    await panel.getByRole('button', { name: 'Teach it' }).click();
    await page.getByRole('heading', { name: 'Teach: odd' }).waitFor();
    await page.getByText(new RegExp(`of ${meter.length} bytes captured`)).waitFor();

    const typeIn = async (): Promise<void> => {
      for (const row of await page.locator('.teach-examples li').all()) {
        const frame = (await row.locator('.hex').innerText()).replaceAll(/\s/g, '');
        await row.getByRole('textbox').fill(shownOf.get(frame)!);
      }
    };
    const keepNewest = async (): Promise<void> => {
      const before = await page.locator('.teach-examples li').count();
      for (let patience = 0; patience < 60 && (await page.locator('.teach-examples li').count()) === before; patience++) {
        await page.getByRole('button', { name: 'Keep this frame' }).click();
        await page.waitForTimeout(150);
      }
    };
    for (let i = 0; i < 4; i++) await keepNewest();
    for (let tries = 0; tries < 14 && (await page.locator('.taught').count()) === 0; tries++) {
      await typeIn();
      await page.getByRole('button', { name: /Work it out/ }).click();
      await page.getByRole('button', { name: /Work it out/ }).waitFor();
      const asked = page.getByRole('button', { name: 'Keep that one, to type what the display showed' });
      await page.locator('.taught, .teach-ask, .form-error').first().waitFor();
      if (tries === 0) await check(opened);
      if (await asked.count() > 0) await asked.click();
      else if (await page.locator('.taught').count() === 0) await keepNewest();
    }
    await page.getByText('This is what would be read').waitFor();
    await check(opened);
    await page.getByLabel('Name of the layout').fill('odd-meter');
    await page.getByRole('button', { name: 'Save it and read the meter by it' }).click();
    await page.getByRole('heading', { name: 'Layouts of your own' }).waitFor();
    const read = () => other.state.meters.find((each) => each.address.endsWith('decoder=frame&layout=odd-meter'));
    await other.until(() => (read()?.counts.readings ?? 0) > 20, 'readings by the layout');
    const values = new Set(states.map((state) => Number(meter.value(state).toPrecision(9))));
    for (const frame of other.frames.filter((each) => each.meter === read()!.index)) {
      for (const value of frame.value) expect(values.has(Number(value.toPrecision(9)))).toBe(true);
    }
    const [download] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name: 'Take out: odd-meter' }).click()]);
    expect(download.suggestedFilename()).toBe('odd-meter.json');
    await page.getByLabel('Bring in a layout file').setInputFiles(await download.path());
    await page.getByText(/There is a layout "odd-meter" already/).waitFor();
  });

  it('of lines: by pointing at the number and the unit, or by typing what the display showed', async () => {
    const pty = await port();
    let n = 0;
    talk(pty, () => `${String(++n).padStart(4, '0')} ; 4.99${n % 3} ; 12.${30 + (n % 7)} ; V\r\n`, 100);
    await other.ask({ type: 'attach-meter', address: `serial:${pty.path}?baud=9600&label=lines` });
    const opened = await openMeters('phone');
    const { page } = opened;
    await page.getByRole('button', { name: 'What it sends, teach it: lines' }).click();
    const lines = page.locator('.teach-lines li');
    await expect.poll(() => lines.count()).toBe(4);
    await check(opened);
    const first = lines.first();
    const numbers = first.getByRole('button');
    await numbers.nth(2).click();
    const preview = page.locator('.preview li');
    await expect.poll(() => preview.first().locator('b').textContent()).toMatch(/^12\.3\d/);
    await numbers.nth(1).click();
    await expect.poll(() => preview.first().locator('b').textContent()).toMatch(/^4\.99\d$/);
    await numbers.nth(3).click();
    await expect.poll(() => preview.first().locator('b').textContent()).toMatch(/^4\.99\d V$/);
    const shown = (await numbers.nth(2).textContent())!;
    await first.getByRole('textbox').fill(`${shown} V DC`);
    await expect.poll(() => preview.first().locator('b').textContent()).toBe(`${shown} V`);
    await check(opened);
    await page.getByLabel('Name of the layout').fill('third-field');
    await page.getByRole('button', { name: 'Save it and read the meter by it' }).click();
    await page.getByText('third-field', { exact: true }).waitFor();
    await other.until(() => other.state.meters.some((each) => each.address.endsWith('layout=third-field') && each.counts.readings > 0), 'readings of the third field');
    const { index } = other.state.meters.find((each) => each.address.endsWith('layout=third-field'))!;
    const values = other.frames.filter((each) => each.meter === index).flatMap((each) => Array.from(each.value));
    expect(values.every((value) => value >= 12.3 && value < 12.4)).toBe(true);
  });
});
