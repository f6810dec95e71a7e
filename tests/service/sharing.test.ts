/** The shared service as other devices meet it: real HTTPS on a loopback address, real certificates, a real browser. */
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { connect } from 'node:tls';
import jsQR from 'jsqr';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { WebSocket as Socket } from 'ws';
import type { SentState, ServerMessage } from '../../server/live/protocol.ts';
import { accessibilityFindings, launchBrowser, openPage, stickingOut, SIZES } from '../support/browser.ts';
import { Dashboard, startService } from '../support/service.ts';
import { ask, mainScreen, openCode, openSocket, pairDevice, startShared, type SharedService } from '../support/shared-service.ts';

let service: SharedService;
let host: string;
beforeAll(async () => {
  service = await startShared();
  host = new URL(service.shared).host;
});
afterAll(() => service?.dispose());

/** A websocket's states and answers. */
function listen(socket: Socket): { states: SentState[]; answers: ServerMessage[]; send(request: object): void; closed: Promise<number>; until(claim: () => boolean): Promise<void> } {
  const states: SentState[] = [];
  const answers: ServerMessage[] = [];
  let watch = (): void => undefined;
  socket.on('message', (data, isBinary) => {
    if (isBinary) return;
    const message = JSON.parse(String(data)) as ServerMessage;
    if (message.type === 'state') states.push(message.state);
    else if (message.type !== 'checks' && message.type !== 'located') answers.push(message);
    watch();
  });
  return {
    states, answers,
    send: (request) => socket.send(JSON.stringify(request)),
    closed: new Promise((resolve) => socket.on('close', resolve)),
    until: (claim) => new Promise((resolve) => {
      watch = () => { if (claim()) resolve(); };
      watch();
    }),
  };
}

describe('a device that is not paired', () => {
  it('meets a certificate that its system accepts for the address, once it trusts the authority', async () => {
    const url = new URL(service.shared);
    const tls = await new Promise<{ authorized: boolean; protocol: string | null }>((resolve, reject) => {
      const socket = connect({ host: url.hostname, port: Number(url.port), ca: service.authority }, () => {
        resolve({ authorized: socket.authorized, protocol: socket.getProtocol() });
        socket.destroy();
      });
      socket.on('error', reject);
    });
    expect(tls).toEqual({ authorized: true, protocol: 'TLSv1.3' });
  });

  it('gets the pairing page, what it loads, and the certificate to trust', async () => {
    expect(await ask(service, '/')).toMatchObject({ status: 303, headers: { location: '/pairing.html' } });
    const page = await ask(service, '/pairing.html');
    expect(page.status).toBe(200);
    const files = [...page.body.matchAll(/"\.(\/assets\/[^"]+)"/g)].map(([, file]) => file!);
    expect(files.length).toBeGreaterThan(1);
    for (const file of files) expect((await ask(service, file)).status, file).toBe(200);
    const authority = await ask(service, '/workshop-authority.crt');
    expect(authority).toMatchObject({ status: 200, headers: { 'content-type': 'application/x-x509-ca-cert' } });
    expect(authority.body.trim()).toBe(service.authority.trim());
  });

  it('gets nothing else, and is told what to do', async () => {
    const dashboard = /assets\/index-[^"]+\.js/.exec(await (await fetch(service.address)).text())![0];
    for (const path of ['/index.html', `/${dashboard}`, '/api/access', '/api/sessions', '/api/sharing', '/.loomtrace/authority.key', '/anything']) {
      const answer = await ask(service, path);
      expect(answer, path).toMatchObject({ status: 401, code: 'NOT_PAIRED' });
      expect(answer.body).toMatch(/main screen/);
    }
    expect(await openSocket(service, { origin: service.shared })).toBe(401);
    expect(await openSocket(service, { origin: service.shared, cookie: '__Host-loomtrace=made.up' })).toBe(401);
  });

  it('is refused with a wrong code, a used one and a closed one, each with what to do', async () => {
    const pair = (code: string) => ask(service, '/api/pairing', { method: 'POST', body: { code, name: 'x' } });
    const code = await openCode(service, 'watch');
    expect(await pair(code.replace(/^./, (first) => (first === '0' ? '1' : '0')))).toMatchObject({ status: 403, code: 'WRONG_CODE' });
    expect((await pair(code)).status).toBe(200);
    expect(await pair(code)).toMatchObject({ status: 403, code: 'CODE_USED' });
    const next = await openCode(service, 'watch');
    await mainScreen(service, 'DELETE', '/code');
    expect(await pair(next)).toMatchObject({ status: 403, code: 'CODE_CLOSED' });
    expect(await ask(service, '/api/pairing', { method: 'POST', body: { code: 1 } })).toMatchObject({ status: 400 });
    expect((await ask(service, '/api/pairing', { method: 'POST', body: { code: 'x'.repeat(5000), name: '' } })).status).toBe(413);
  });
});

describe('a paired device', () => {
  it('holds a token that no script reads, no other host gets and no other site sends', async () => {
    const code = await openCode(service, 'watch');
    const answer = await ask(service, '/api/pairing', { method: 'POST', body: { code, name: 'Phone' } });
    // RFC 6265bis 4.1.3.2: the __Host- prefix holds only with Secure, Path=/ and no Domain.
    expect(String(answer.headers['set-cookie'])).toMatch(/^__Host-loomtrace=[\w-]+\.[\w-]{43}; Path=\/; Max-Age=\d+; Secure; HttpOnly; SameSite=Strict$/);
  });

  it('sees the readings and recordings; as one that may only watch it changes nothing', async () => {
    const cookie = await pairDevice(service, 'watch');
    expect((await ask(service, '/api/sessions', { headers: { cookie } })).status).toBe(200);
    expect(JSON.parse((await ask(service, '/api/access', { headers: { cookie } })).body)).toEqual({ role: 'watch', isMainScreen: false, name: 'Phone' });
    expect(await ask(service, '/api/sessions', { method: 'POST', headers: { cookie } })).toMatchObject({ status: 403, code: 'WATCH_ONLY' });
    let heard!: ReturnType<typeof listen>;
    await openSocket(service, { origin: service.shared, cookie }, (socket) => (heard = listen(socket)));
    await heard.until(() => heard.states.length > 0);
    const { check } = heard.states[0]!;
    const changes = [
      { type: 'start-take', check, watching: 'spot' }, { type: 'stop-take' }, { type: 'choose', check, watching: 'road' }, { type: 'mark', text: 'x' },
      { type: 'new-session' }, { type: 'describe', basedOn: heard.states[0]!.sessionRevision, title: 'x' }, { type: 'simulate', fault: 'none' },
    ];
    changes.forEach((change, request) => heard.send({ request, ...change }));
    const refusals = () => heard.answers.filter(({ type }) => type === 'refused');
    await heard.until(() => refusals().length === changes.length);
    for (const refusal of refusals()) expect(refusal).toMatchObject({ code: 'WATCH_ONLY', message: expect.stringContaining('main screen') as string });
    expect(heard.states.at(-1)!.take).toBeNull();
  });

  it('controls what the main screen does, when it may, but lets nobody in', async () => {
    const cookie = await pairDevice(service, 'control');
    let heard!: ReturnType<typeof listen>;
    await openSocket(service, { origin: service.shared, cookie }, (socket) => (heard = listen(socket)));
    await heard.until(() => heard.states.length > 0);
    heard.send({ request: 1, type: 'describe', basedOn: heard.states.at(-1)!.sessionRevision, title: 'Named from the phone' });
    await heard.until(() => heard.answers.some(({ type }) => type === 'done'));
    const main = await Dashboard.open(service.address);
    expect(main.state.session.title).toBe('Named from the phone');
    main.close();
    for (const [method, path] of [['GET', ''], ['POST', '/code'], ['DELETE', '/devices/x']] as const) {
      expect(await ask(service, `/api/sharing${path}`, { method, headers: { cookie } }), path).toMatchObject({ status: 403, code: 'MAIN_SCREEN_ONLY' });
    }
  });

  it('is cut off at once when it is withdrawn, and told so from then on', async () => {
    const cookie = await pairDevice(service, 'control', 'Lost phone');
    let heard!: ReturnType<typeof listen>;
    await openSocket(service, { origin: service.shared, cookie }, (socket) => (heard = listen(socket)));
    await heard.until(() => heard.states.length > 0);
    const found = (await mainScreen(service, 'GET', '')).devices.find(({ name }) => name === 'Lost phone')!;
    expect(found.open).toBe(1);
    const after = await mainScreen(service, 'DELETE', `/devices/${found.id}`);
    heard.send({ request: 7, type: 'describe', basedOn: heard.states.at(-1)!.sessionRevision, title: 'sent by the withdrawn' });
    expect(await heard.closed).toBe(4001);
    expect(after.devices.some(({ id }) => id === found.id)).toBe(false);
    expect(heard.answers).toEqual([]);
    expect(await ask(service, '/api/sessions', { headers: { cookie } })).toMatchObject({ status: 401, code: 'WITHDRAWN' });
    expect(await openSocket(service, { origin: service.shared, cookie })).toBe(401);
    const main = await Dashboard.open(service.address);
    expect(main.state.session.title).not.toBe('sent by the withdrawn');
    main.close();
  });

  it('changes its role at once', async () => {
    const cookie = await pairDevice(service, 'control', 'Tablet');
    let closed!: Promise<number>;
    await openSocket(service, { origin: service.shared, cookie }, (socket) => (closed = listen(socket).closed));
    const { id } = (await mainScreen(service, 'GET', '')).devices.find(({ name }) => name === 'Tablet')!;
    await mainScreen(service, 'POST', `/devices/${id}`, { role: 'watch' });
    // The page opens its websocket again by itself, in the new role.
    await closed;
    expect(JSON.parse((await ask(service, '/api/access', { headers: { cookie } })).body)).toMatchObject({ role: 'watch' });
  });
});

describe('other sites and other names', () => {
  it.each([
    ['https://evil.example'], ['null'], ['https://127.0.0.2:1'], ['http://SHARED'], ['https://SHARED.evil.example'], ['https://127.0.0.2.evil.example'], ['MAIN'],
  ])('open no websocket and change nothing, even with a token: origin %s', async (origin) => {
    const cookie = await pairDevice(service, 'control');
    const named = origin.replace('SHARED', host).replace('MAIN', service.address);
    expect(await openSocket(service, { origin: named, cookie })).toBe(403);
    expect(await ask(service, '/api/pairing', { method: 'POST', headers: { origin: named }, body: { code: 'x', name: '' } })).toMatchObject({ status: 403, code: 'FOREIGN' });
  });

  it.each([['evil.example:PORT'], ['127.0.0.2'], ['127.0.0.2:1'], ['127.0.0.1:PORT'], ['localhost:PORT'], ['127.0.0.2.evil.example:PORT']])(
    'that resolve to this machine are refused: host %s', async (name) => {
      const cookie = await pairDevice(service, 'control');
      const named = name.replace('PORT', new URL(service.shared).port);
      for (const path of ['/', '/pairing.html', '/api/sessions', '/workshop-authority.crt']) {
        expect(await ask(service, path, { headers: { host: named, cookie } }), path).toMatchObject({ status: 403, code: 'FOREIGN' });
      }
      expect(await openSocket(service, { host: named, origin: `https://${named}`, cookie })).toBe(403);
    });
});

describe('several screens', () => {
  it('see the same state, whoever changed it', async () => {
    const main = await Dashboard.open(service.address);
    const phones: ReturnType<typeof listen>[] = [];
    for (const role of ['control', 'watch', 'watch'] as const) {
      await openSocket(service, { origin: service.shared, cookie: await pairDevice(service, role) }, (socket) => phones.push(listen(socket)));
    }
    for (const [number, title] of ['one', 'two', 'three'].entries()) {
      await phones[0]!.until(() => phones[0]!.states.length > 0);
      phones[0]!.send({ request: number, type: 'describe', basedOn: phones[0]!.states.at(-1)!.sessionRevision, title });
      await Promise.all([
        main.until(() => main.state.session.title === title, title),
        ...phones.map((phone) => phone.until(() => phone.states.at(-1)?.session.title === title)),
      ]);
    }
    main.close();
  });
});

describe('starting', () => {
  it.each([
    [['--share-at', '8.8.8.8'], /private network/], [['--share-at', '0.0.0.0'], /private network/], [['--share-at', 'localhost'], /--share-at takes an IP address/],
    [['--share-at', '10.254.253.252'], /no address 10\.254\.253\.252/],
  ])('%j is refused with what to do', async (args, message) => {
    await expect(startService(args)).rejects.toThrow(message);
  });

  it('knows its devices again', async () => {
    const first = await startShared();
    const cookie = await pairDevice(first, 'watch');
    await first.stop();
    const second = await startShared(first.recordings);
    expect(second.authority).toBe(first.authority);
    expect((await ask(second, '/api/access', { headers: { cookie } })).status).toBe(200);
    expect(await (await fetch(`${second.address}/api/sessions`)).json()).toEqual([]);
    await second.dispose();
  });
});

describe('in a browser', () => {
  let browser: Browser;
  beforeAll(async () => { browser = await launchBrowser(); });
  afterAll(() => browser?.close());

  async function phone(path: string): Promise<{ context: BrowserContext; page: Page }> {
    // The user goes on past the warning; whether the chain itself holds is checked above without that.
    const context = await browser.newContext({ ignoreHTTPSErrors: true, viewport: SIZES.phone, isMobile: true, hasTouch: true });
    const page = await context.newPage();
    await page.goto(service.shared + path);
    return { context, page };
  }

  it('a phone scans the code on the main screen, is let in, watches, is withdrawn, and hears why', async () => {
    const main = await openPage(browser, service.address);
    await main.page.getByRole('button', { name: 'Devices' }).click();
    await main.page.getByRole('radio', { name: 'watch only' }).check();
    await main.page.getByRole('button', { name: 'Let a device in' }).click();
    const code = main.page.locator('.qr-code');
    await code.waitFor();
    expect(await accessibilityFindings(main.page)).toEqual([]);

    // Read from the screen's pixels by a QR reader other than the writer.
    const png = (await code.screenshot()).toString('base64');
    const pixels = await main.page.evaluate(async (data) => {
      const image = new Image();
      image.src = `data:image/png;base64,${data}`;
      await image.decode();
      const canvas = new OffscreenCanvas(image.width, image.height);
      const context = canvas.getContext('2d')!;
      context.drawImage(image, 0, 0);
      return { width: image.width, height: image.height, data: Array.from(context.getImageData(0, 0, image.width, image.height).data) };
    }, png);
    const scanned = jsQR.default(Uint8ClampedArray.from(pixels.data), pixels.width, pixels.height)!.data;
    const shown = await main.page.locator('.open-code-code').textContent();
    expect(scanned).toBe(`${service.shared}/pairing.html#${shown}`);

    const { context, page } = await phone(scanned.slice(service.shared.length));
    const field = page.getByLabel('Code on the main screen');
    expect(await field.inputValue()).toBe(shown);
    expect(page.url()).not.toContain(shown!);
    expect(await accessibilityFindings(page)).toEqual([]);
    expect(await stickingOut(page)).toEqual([]);

    await field.fill('0000-0000');
    await page.getByRole('button', { name: 'Pair' }).click();
    await page.getByText('That is not the code on the main screen').waitFor();
    await field.fill(shown!);
    await page.getByLabel('Name of this device').fill('Blue phone');
    await page.getByRole('button', { name: 'Pair' }).click();
    await page.locator('.watch .figures').waitFor();
    await page.getByText('Watch only').waitFor();
    // What would change something is switched off, with the reason; what only looks is not.
    await page.getByText('This device may only watch').waitFor();
    expect(await page.getByRole('button', { name: /Start take/ }).isDisabled()).toBe(true);
    expect(await page.getByRole('button', { name: 'Change check' }).isDisabled()).toBe(true);
    expect(await page.getByRole('button', { name: 'Tone' }).isDisabled()).toBe(false);
    for (const [screen, button] of [['Road', 'Start road test'], ['Chart', 'Use this chart']] as const) {
      await page.getByRole('link', { name: screen }).click();
      await page.getByRole('button', { name: button }).waitFor();
      expect(await page.getByRole('button', { name: button }).isDisabled()).toBe(true);
      expect(await accessibilityFindings(page)).toEqual([]);
    }
    await page.getByRole('link', { name: 'Watch' }).click();
    expect(await page.locator('.alert').count()).toBe(0);
    expect(await page.getByRole('button', { name: 'Devices' }).count()).toBe(0);
    expect(await stickingOut(page)).toEqual([]);

    await main.page.getByText('The device was let in.').waitFor();
    await main.page.getByRole('button', { name: 'Withdraw Blue phone' }).click();
    await page.waitForURL('**/pairing.html');
    await page.getByText('This device was withdrawn on the main screen').waitFor();
    expect(main.troubles).toEqual([]);
    await main.close();
    await context.close();
  });

  it('a page of another site reaches neither the shared service nor its websocket, while a page of its own does', async () => {
    const { context, page } = await phone('/pairing.html');
    const cookie = await pairDevice(service, 'control');
    const [name, value] = cookie.split('=') as [string, string];
    await context.addCookies([{ name, value, url: `${service.shared}/`, secure: true, httpOnly: true, sameSite: 'Strict' }]);
    // A page without the content policy of this service, which would keep its own pages from trying.
    const elsewhere = createServer((_request, response) => response.writeHead(200, { 'Content-Type': 'text/html' }).end('<!doctype html><title>elsewhere</title>'));
    await new Promise<void>((resolve) => elsewhere.listen(0, '127.0.0.1', resolve));
    const attempt = (): Promise<{ read: string; socket: string }> => page.evaluate(async (shared) => {
      const socket = new Promise<string>((resolve) => {
        const ws = new WebSocket(`${shared.replace('https', 'wss')}/live`);
        ws.onmessage = () => resolve('heard');
        ws.onerror = () => resolve('refused');
      });
      const read = await fetch(`${shared}/api/sessions`, { credentials: 'include' }).then(async (answer) => (answer.ok ? typeof (await answer.json()) : `${answer.status}`), () => 'refused');
      return { read, socket: await socket };
    }, service.shared);
    try {
      await page.goto(`http://127.0.0.1:${(elsewhere.address() as AddressInfo).port}/`);
      expect(await attempt()).toEqual({ read: 'refused', socket: 'refused' });
      // The same attempt with the same cookie, by a page that may: else it would prove nothing.
      await page.goto(`${service.shared}/`);
      await page.locator('.watch').waitFor();
      expect(await attempt()).toEqual({ read: 'object', socket: 'heard' });
    } finally {
      elsewhere.close();
      await context.close();
    }
  });
});
