/** A meter that nobody knows: found out, taught, and read by a layout that can be shared. */
import { afterEach, describe, expect, it } from 'vitest';
import type { FrameLayout } from '../../drivers/index.ts';
import type { Capture, FindRequest, FrameExample, LiveFinding, TaughtAnswer } from '../../server/live/protocol.ts';
import type { MeterRecord } from '../../server/session/session.ts';
import { openPty, type Pty } from '../support/pty.ts';
import { scpiInstrument } from '../support/scpi-instrument.ts';
import { Dashboard, startService, type StartedService } from '../support/service.ts';
import { displayStates, unknownMeter } from '../support/unknown-meters.ts';

const cleanUp: (() => Promise<unknown> | void)[] = [];
afterEach(async () => {
  for (const clean of cleanUp.splice(0).reverse()) await clean();
});

async function begin(): Promise<{ service: StartedService; dashboard: Dashboard; pty: Pty }> {
  const service = await startService([]);
  cleanUp.push(() => service.dispose());
  const dashboard = await Dashboard.open(service.address);
  cleanUp.push(() => dashboard.close());
  const pty = await openPty();
  cleanUp.push(() => pty.close());
  return { service, dashboard, pty };
}

function talk(pty: Pty, next: () => string | Uint8Array, every = 60): () => void {
  const timer = setInterval(() => void pty.write(next()).catch(() => undefined), every);
  cleanUp.push(() => clearInterval(timer));
  return () => clearInterval(timer);
}

const resultOf = <T>(answer: unknown): T => {
  expect(answer).toMatchObject({ type: 'done' });
  return (answer as { result: T }).result;
};
const RUNNING = ['listening', 'asking'];

/** Asks, and waits for what comes of it. */
async function findOut(dashboard: Dashboard, request: Omit<Extract<FindRequest, { type: 'find-out' }>, 'type'>): Promise<LiveFinding> {
  await dashboard.ask({ type: 'stop-finding' });
  await dashboard.until(() => dashboard.state.finding === null, 'the last one to be forgotten');
  await dashboard.ask({ type: 'find-out', ...request });
  await dashboard.until(() => dashboard.state.finding !== null && !RUNNING.includes(dashboard.state.finding.phase), 'the end');
  return dashboard.state.finding!;
}

describe('finding out what a meter says', () => {
  it('shows how far it is, then what it reads, and the address attaches it', async () => {
    const { dashboard, pty } = await begin();
    talk(pty, () => '0.512 kOhm\r\n');
    expect(await dashboard.ask({ type: 'find-out', address: `serial:${pty.path}?label=bench` })).toMatchObject({ type: 'done' });
    expect(await dashboard.ask({ type: 'find-out', address: 'serial:/dev/x' })).toMatchObject({ type: 'refused', code: 'FINDING_RUNS' });
    await dashboard.until(() => (dashboard.state.finding?.bytes ?? 0) > 0, 'bytes to be shown');
    await dashboard.until(() => dashboard.state.finding?.phase === 'recognised', 'the end');
    const finding = dashboard.state.finding!;
    expect(finding).toMatchObject({ phase: 'recognised', wasAsked: false });
    expect(finding.guesses[0]!.readings[0]).toMatchObject({ quantity: 'resistance', value: 512 });
    expect(finding.guesses[0]!.address).toBe(`serial:${pty.path}?label=bench&baud=9600`);
    await dashboard.ask({ type: 'stop-finding' });
    await dashboard.until(() => dashboard.state.finding === null, 'it to be forgotten');
    const { index } = resultOf<MeterRecord>(await dashboard.ask({ type: 'attach-meter', address: finding.guesses[0]!.address }));
    await dashboard.until(() => (dashboard.state.meters.find((meter) => meter.index === index)?.counts.readings ?? 0) > 2, 'readings');
    // An attached meter is listened to beside its own reading.
    expect(await findOut(dashboard, { address: `serial:${pty.path}` })).toMatchObject({ phase: 'recognised', meter: index });
  });

  it('sends nothing to a silent one before the user agrees, and stops when told to', async () => {
    const { dashboard, pty } = await begin();
    let heard = 0;
    const instrument = scpiInstrument({ identity: 'MA,IN,0,VER', reading: () => '1' }, (text) => void pty.write(text).catch(() => undefined));
    pty.onReceived((bytes) => { heard += bytes.length; instrument.receive(bytes); });
    expect(await findOut(dashboard, { address: `serial:${pty.path}` })).toMatchObject({ phase: 'silent', wasAsked: false });
    expect(heard).toBe(0);
    const asked = await findOut(dashboard, { address: `serial:${pty.path}`, mayAsk: true });
    expect(asked.guesses[0]!).toMatchObject({ address: `serial:${pty.path}?baud=9600&decoder=scpi`, doubts: ['It says that it is MA,IN,0,VER.'] });
    await dashboard.ask({ type: 'stop-finding' });
    await dashboard.ask({ type: 'find-out', address: `serial:${pty.path}`, patience: 120 });
    await dashboard.ask({ type: 'stop-finding' });
    await dashboard.until(() => dashboard.state.finding === null, 'it to be stopped');
    // The port is free again.
    talk(pty, () => '1.5 V\r\n');
    expect(await findOut(dashboard, { address: `serial:${pty.path}` })).toMatchObject({ phase: 'recognised' });
  });

  it('says why a port or a network link does not open, and what is wrong with an address', async () => {
    const { dashboard } = await begin();
    const tell = async (address: string): Promise<string> => {
      const { phase, message } = await findOut(dashboard, { address });
      return `${phase}: ${message}`;
    };
    expect(await tell('serial:/dev/there-is-no-such-port')).toMatch(/^trouble: There is no port/);
    expect(await tell('tcp:127.0.0.1:1')).toMatch(/^trouble: The far end/);
    expect(await tell('nonsense')).toMatch(/^trouble: .*no meter address/);
  });
});

describe('teaching a meter of frames', () => {
  it('captures, asks for what would settle it, saves a layout, reads by it, and so does the next start', async () => {
    const { service, dashboard, pty } = await begin();
    const meter = unknownMeter('bcd-packed', 20_261_126);
    const states = displayStates(77, 40);
    const shownOf = new Map(states.map((state) => [Buffer.from(meter.frame(state)).toString('hex'), meter.shown(state)]));
    const valueOf = new Map(states.map((state) => [meter.shown(state), meter.value(state)]));
    const frames = [...shownOf.keys()];
    let n = 0;
    talk(pty, () => Buffer.from(frames[n++ % frames.length]!, 'hex'), 40);
    const { index } = resultOf<MeterRecord>(await dashboard.ask({ type: 'attach-meter', address: `serial:${pty.path}?baud=9600&label=odd` }));
    let capture: Capture;
    do {
      capture = resultOf<Capture>(await dashboard.ask({ type: 'read-capture', meter: index }));
      await new Promise((resolve) => setTimeout(resolve, 100));
    } while (capture.count < 50);
    expect(capture).toMatchObject({ kind: 'frames', fixed: expect.arrayContaining([true, false]) as boolean[] });
    const examples: FrameExample[] = frames.slice(0, 3).map((frame) => ({ frame, shown: shownOf.get(frame)! }));
    let taught: TaughtAnswer = { kind: 'failed', why: '' };
    while (examples.length < 16 && taught.kind !== 'taught') {
      const frame = taught.kind === 'ambiguous' ? taught.ask! : frames[examples.length]!;
      examples.push({ frame, shown: shownOf.get(frame)! });
      taught = resultOf<TaughtAnswer>(await dashboard.ask({ type: 'teach-frames', meter: index, name: 'odd-meter', examples, leavesUnknown: false }));
    }
    if (taught.kind !== 'taught') throw new Error(JSON.stringify(taught));
    for (const { sent, reading } of taught.preview) {
      const value = valueOf.get(shownOf.get(sent)!)!;
      if (reading !== null) expect(reading.value).toEqual(Number.isNaN(value) ? null : expect.closeTo(value, 9));
    }
    expect(await dashboard.ask({ type: 'save-layout', layout: taught.layout })).toMatchObject({ type: 'done' });
    expect(await dashboard.ask({ type: 'save-layout', layout: taught.layout })).toMatchObject({ type: 'refused', code: 'LAYOUT_EXISTS' });
    expect(await dashboard.ask({ type: 'save-layout', layout: { layout: 'frame/1' } })).toMatchObject({ type: 'refused', code: 'BAD_LAYOUT' });
    const record = resultOf<MeterRecord>(await dashboard.ask({ type: 'reread-meter', meter: index, address: `serial:${pty.path}?label=odd&baud=9600&decoder=frame&layout=odd-meter` }));
    expect(record.label).toBe('odd');
    await dashboard.until(() => dashboard.frames.some((frame) => frame.meter === record.index && frame.length > 0), 'a reading by the layout');
    const values = new Set(states.map((state) => meter.value(state)));
    for (const frame of dashboard.frames.filter((each) => each.meter === record.index)) {
      for (const value of frame.value) expect(values.has(Number.isNaN(value) ? NaN : value)).toBe(true);
    }
    expect(await dashboard.ask({ type: 'remove-layout', name: 'odd-meter' })).toMatchObject({ type: 'refused', code: 'LAYOUT_IN_USE' });
    expect(resultOf<FrameLayout>(await dashboard.ask({ type: 'read-layout', name: 'odd-meter' }))).toEqual(taught.layout);
    await dashboard.ask({ type: 'detach-meter', meter: 0 });
    await service.stop();
    const again = await startService([], service.recordings);
    cleanUp.push(() => again.dispose());
    const after = await Dashboard.open(again.address);
    cleanUp.push(() => after.close());
    expect(after.state.meters[0]!.address).toContain('layout=odd-meter');
    await after.until(() => after.state.meters[0]!.counts.readings > 0, 'readings after the next start');
  });
});

describe('teaching a meter of lines', () => {
  it('works out the field from what the display showed, or takes what was pointed at, and keeps it under a name', async () => {
    const { dashboard, pty } = await begin();
    let n = 0;
    talk(pty, () => `${++n};4.99${n % 3};12.${30 + (n % 7)};ok\r\n`);
    const { index } = resultOf<MeterRecord>(await dashboard.ask({ type: 'attach-meter', address: `serial:${pty.path}?baud=9600` }));
    let capture: Capture;
    do {
      capture = resultOf<Capture>(await dashboard.ask({ type: 'read-capture', meter: index }));
      await new Promise((resolve) => setTimeout(resolve, 100));
    } while (capture.lines.length < 5);
    expect(capture.kind).toBe('text');
    const [line] = capture.lines as [string];
    const shown = `${line.split(';')[2]} V DC`;
    const taught = resultOf<TaughtAnswer>(await dashboard.ask({ type: 'teach-lines', meter: index, name: 'third-field', examples: [{ line, shown }], chosen: null }));
    expect(taught).toMatchObject({ kind: 'taught', layout: { layout: 'text/1', field: 3, unit: 'V DC', newline: 'lf' } });
    const pointed = resultOf<TaughtAnswer>(await dashboard.ask({ type: 'teach-lines', meter: index, name: 'second', examples: [], chosen: { field: 2, newline: 'lf' } }));
    if (pointed.kind !== 'taught') throw new Error(pointed.kind);
    expect(pointed.undetermined.join()).toMatch(/unit/);
    expect(pointed.preview.find((each) => each.sent === line)?.reading?.value).toBeCloseTo(Number(line.split(';')[1]), 9);
    expect(resultOf<TaughtAnswer>(await dashboard.ask({ type: 'teach-lines', meter: index, name: 'x', examples: [], chosen: { field: 2, unit: 'furlong', newline: 'lf' } }))).toMatchObject({ kind: 'failed' });
    if (taught.kind !== 'taught') throw new Error(taught.kind);
    await dashboard.ask({ type: 'save-layout', layout: taught.layout });
    const record = resultOf<MeterRecord>(await dashboard.ask({ type: 'reread-meter', meter: index, address: `serial:${pty.path}?baud=9600&layout=third-field` }));
    await dashboard.until(() => dashboard.frames.some((frame) => frame.meter === record.index && frame.value.some((value) => value > 12.2 && value < 12.4)), 'the third field');
    expect(await dashboard.ask({ type: 'reread-meter', meter: record.index, address: `serial:${pty.path}?layout=no-such` })).toMatchObject({ type: 'refused', code: 'BAD_ADDRESS' });
    expect(dashboard.state.meters.some((meter) => meter.index === record.index)).toBe(true);
  });
});
