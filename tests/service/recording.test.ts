import { execFileSync } from 'node:child_process';
import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { Library } from '../../server/recordings/index.ts';
import { openPty, type Pty } from '../support/pty.ts';
import { Dashboard, startService, type StartedService } from '../support/service.ts';

const cleanUp: (() => Promise<unknown> | void)[] = [];
afterEach(async () => {
  for (const clean of cleanUp.splice(0).reverse()) await clean();
});

async function plugIn(options = ''): Promise<{ pty: Pty; service: StartedService; dashboard: Dashboard }> {
  const pty = await openPty();
  cleanUp.push(() => pty.close());
  const service = await startService(['--meter', `serial:${pty.path}?baud=9600&accuracy=0.5%25+2${options}`]);
  cleanUp.push(() => service.dispose());
  const dashboard = await Dashboard.open(service.address);
  cleanUp.push(() => dashboard.close());
  await dashboard.until(() => dashboard.state.meters[0]?.link.state === 'open', 'the port to open');
  return { pty, service, dashboard };
}

/** All samples of a take, read back from the file by the library. */
async function stored(service: StartedService, take: number): Promise<{ value: number[]; time: number[]; flags: number[] }> {
  const library = Library.open({ folder: service.recordings });
  try {
    const [session] = await library.list();
    const page = await library.samples(session!.session, take, 0);
    return { value: [...page.value], time: [...page.time], flags: [...page.flags] };
  } finally {
    await library.close();
  }
}

const pause = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));

describe('from the bytes of a serial port', () => {
  it('every reading reaches the websocket and the recording, in order, with its take, and lines that are no reading are counted', async () => {
    const { pty, service, dashboard } = await plugIn();
    // What is on the line when the port is opened is the end of a line that began before.
    await pty.write('34 V DC\r\n');
    await pty.write('12.01 V DC\r\n');
    await dashboard.until(() => dashboard.values().length === 1, 'the reading before the take');
    await dashboard.ask({ type: 'start-take', check: dashboard.state.check, watching: 'wiggle' });
    await pty.write('12.02 V DC\r\n12.');
    await pause(30);
    await pty.write('03 V DC\r\n\u0000\u00ff garbage ~~\r\n');
    await pty.write('OL V\r\n');
    await pty.write('11990 mV\r\n');
    await dashboard.until(() => dashboard.values().length === 5, 'the readings of the take');
    expect(dashboard.values()).toEqual([12.01, 12.02, 12.03, NaN, 11.99]);
    await dashboard.ask({ type: 'stop-take' });
    await pty.write('13.00 V DC\r\n');
    await dashboard.until(() => dashboard.values().length === 6, 'the reading after the take');
    expect(dashboard.frames.map((frame) => frame.take)).toEqual([0, ...dashboard.frames.slice(1, -1).map(() => 1), 0]);
    // The garbage; the half line at the opening is not held against the meter.
    await dashboard.until(() => dashboard.state.meters[0]!.counts.readings === 6, 'the counts');
    expect(dashboard.state.meters[0]!.counts).toMatchObject({ readings: 6, skipped: 1 });
    expect(await service.stop()).toBe(0);

    const samples = await stored(service, 1);
    expect(samples.value).toEqual([12.02, 12.03, NaN, 11.99]);
    expect(samples.flags.map((flags) => flags & 1)).toEqual([0, 0, 1, 0]);
    for (let i = 1; i < samples.time.length; i++) expect(samples.time[i]!).toBeGreaterThan(samples.time[i - 1]!);
    const file = join(service.recordings, readdirSync(service.recordings).find((name) => name.endsWith('.sqlite'))!);
    expect(execFileSync('sqlite3', [file, 'PRAGMA integrity_check'], { encoding: 'utf8' }).trim()).toBe('ok');
  });

  it('going on to another check closes one take and opens the next without losing a sample in between', async () => {
    const { pty, service, dashboard } = await plugIn();
    const [first, second] = dashboard.state.checks;
    await pty.write('0.000 V\r\n0.000 V\r\n');
    await dashboard.until(() => dashboard.values().length > 0, 'the first reading');
    await dashboard.ask({ type: 'start-take', check: first!, watching: 'wiggle' });
    let sent = 0;
    const feed = setInterval(() => void pty.write(`${(++sent / 1000).toFixed(3)} V\r\n`), 2);
    const received = (take: number) => dashboard.frames.reduce((sum, frame) => sum + (frame.take === take ? frame.length : 0), 0);
    let take = 1;
    for (const check of [second!, first!, second!, first!, second!]) {
      await dashboard.until(() => received(take) > 10, `samples of take ${take}`);
      await dashboard.ask({ type: 'choose', check, watching: 'wiggle' });
      take++;
    }
    await dashboard.until(() => received(take) > 10, `samples of take ${take}`);
    clearInterval(feed);
    await dashboard.until(() => Math.round((dashboard.values().at(-1) ?? 0) * 1000) === sent, 'the last one sent');
    await dashboard.ask({ type: 'stop-take' });
    await dashboard.until(() => dashboard.state.take === null, 'the end of the take');
    expect(dashboard.state.ended.map(({ take }) => [take.id, take.check.id, take.ending])).toEqual([
      [6, second!.id, 'stopped'], [5, first!.id, 'next-check'], [4, second!.id, 'next-check'], [3, first!.id, 'next-check'],
      [2, second!.id, 'next-check'], [1, first!.id, 'next-check'],
    ]);
    await service.stop();
    const values: number[] = [];
    for (let take = 1; take <= 6; take++) {
      const samples = await stored(service, take);
      expect(samples.value.length).toBeGreaterThan(5);
      values.push(...samples.value);
    }
    expect(values.map((value) => Math.round(value * 1000))).toEqual(Array.from({ length: sent }, (_, i) => i + 1));
  });

  it('a pulled cable is a gap and no dropout; plugged in again, reading goes on by itself in the same take', async () => {
    const { pty, service, dashboard } = await plugIn('&interval=0.02&aperture=0.02');
    const ground = dashboard.state.checks.find((check) => check.kind === 'ground')!;
    const readings = async (count: number) => {
      for (let i = 0; i < count; i++) {
        await pty.write(`${(0.02 + (i % 3) / 1000).toFixed(3)} V DC\r\n`);
        await pause(20);
      }
    };
    await readings(10);
    await dashboard.ask({ type: 'start-take', check: ground, watching: 'wiggle' });
    await readings(60);
    await pty.write('0.02');
    await pty.unplug();
    await dashboard.until(() => ['gone', 'retry'].includes(dashboard.state.meters[0]!.link.state), 'the meter to be gone');
    expect(dashboard.state.meters[0]!.link.message).not.toBe('');
    await pause(400);
    await pty.replug();
    await dashboard.until(() => dashboard.state.meters[0]!.link.state === 'open', 'the meter to be back');
    await readings(60);
    await dashboard.until(() => (dashboard.judgement?.judgement.gaps.length ?? 0) > 0, 'the gap');
    await dashboard.ask({ type: 'stop-take' });
    await dashboard.until(() => dashboard.state.take === null, 'the end of the take');
    const { judgement } = dashboard.judgement!;
    expect(judgement.dropouts).toEqual([]);
    expect(judgement.gaps.length).toBeGreaterThanOrEqual(1);
    expect(Math.max(...judgement.gaps.map((gap) => gap.end - gap.start))).toBeGreaterThan(0.4);
    await service.stop();
    // Nothing was invented from the half line before the cable came out.
    for (const value of (await stored(service, 1)).value) expect([0.02, 0.021, 0.022]).toContain(value);
  });
});

describe('the service as a process', () => {
  it('stops cleanly on Ctrl-C with three dashboards open: the take is closed, the last sample is stored', async () => {
    const { pty, service, dashboard } = await plugIn();
    for (let i = 0; i < 2; i++) {
      const other = await Dashboard.open(service.address);
      cleanUp.push(() => other.close());
    }
    await pty.write('1.000 V\r\n1.000 V\r\n');
    await dashboard.until(() => dashboard.values().length > 0, 'a reading');
    await dashboard.ask({ type: 'start-take', check: dashboard.state.check, watching: 'spot' });
    await pty.write('1.001 V\r\n1.002 V\r\n');
    await dashboard.until(() => dashboard.values().includes(1.002), 'the last reading');
    expect(await service.stop('SIGINT')).toBe(0);
    expect((await stored(service, 1)).value).toEqual([1.001, 1.002]);
    const library = Library.open({ folder: service.recordings });
    cleanUp.push(() => library.close());
    const [session] = await library.list();
    expect(session).toMatchObject({ state: 'complete', takes: 1 });
    expect((await library.contents(session!.session)).takes[0]).toMatchObject({ id: 1, ending: 'service-stopped', samples: 2 });
  });

  it('kill -9 in the middle of a take loses at most the last 250 ms, and the file opens clean', async () => {
    const { pty, service, dashboard } = await plugIn();
    await pty.write('0.000 V\r\n0.000 V\r\n');
    await dashboard.until(() => dashboard.values().length > 0, 'a reading');
    await dashboard.ask({ type: 'start-take', check: dashboard.state.check, watching: 'wiggle' });
    let sent = 0;
    const receivedAt: number[] = [];
    dashboard.socket.on('message', (_data, isBinary) => {
      if (!isBinary) return;
      for (const value of dashboard.frames.at(-1)!.value) receivedAt[Math.round(value * 1000)] = performance.now();
    });
    const feed = setInterval(() => void pty.write(`${(++sent / 1000).toFixed(3)} V\r\n`), 5);
    const older = (ms: number): number => receivedAt.findLastIndex((at) => at !== undefined && at < performance.now() - ms);
    await dashboard.until(() => older(250) > 200, 'readings of more than a second');
    // At any moment of the writer's round.
    await pause(Math.random() * 200);
    const killedAt = performance.now();
    await service.stop('SIGKILL');
    clearInterval(feed);

    const samples = await stored(service, 1);
    // A prefix of what was sent ...
    expect(samples.value.map((value) => Math.round(value * 1000))).toEqual(samples.value.map((_, i) => i + 1));
    // ... that holds everything the service had for 250 ms.
    const hadToSurvive = receivedAt.findLastIndex((at) => at !== undefined && at < killedAt - 250);
    expect(hadToSurvive).toBeGreaterThan(100);
    expect(samples.value.length).toBeGreaterThanOrEqual(hadToSurvive);
    const library = Library.open({ folder: service.recordings });
    cleanUp.push(() => library.close());
    const [session] = await library.list();
    // A few seconds after the last write the library takes the session for interrupted.
    const ending = async () => (await library.contents(session!.session)).takes[0]!.ending;
    await expect.poll(ending).toBe('interrupted');
    expect((await library.contents(session!.session)).takes[0]).toMatchObject({ id: 1, samples: samples.value.length });
    const file = join(service.recordings, `${session!.session}.sqlite`);
    expect(execFileSync('sqlite3', [file, 'PRAGMA integrity_check'], { encoding: 'utf8' }).trim()).toBe('ok');
  });

  it('says what to do when the port is missing, and reads it as soon as it is there', async () => {
    const service = await startService(['--meter', 'serial:/dev/loomtrace-none']);
    cleanUp.push(() => service.dispose());
    const dashboard = await Dashboard.open(service.address);
    cleanUp.push(() => dashboard.close());
    await dashboard.until(() => dashboard.state.meters[0]!.link.code === 'PORT_MISSING', 'the message');
    expect(dashboard.state.meters[0]!.link.message).toMatch(/\/dev\/loomtrace-none/);
  });

  it.each([
    [['--meter', 'serial:'], /serial:\/dev\/ttyUSB0/],
    [['--meter', 'simulated:other'], /simulated:alder7/],
    [['--meter', 'carrier-pigeon:x'], /carrier-pigeon/],
    [['--listen', '127.0.0.1'], /HOST:PORT/],
    [['--volume', '11'], /--volume/],
  ])('refuses %j with a sentence that says what to write', async (args, message) => {
    await expect(startService(args)).rejects.toThrow(message);
  });

  it('says so when its port is taken', async () => {
    const { service } = await plugIn();
    const port = Number(new URL(service.address).port);
    await expect(startService([], service.recordings, port)).rejects.toThrow(/already listens/);
  });
});
