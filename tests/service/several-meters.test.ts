/** Two meters on one circuit, each on a serial port of its own: live and from the file. */
import { afterEach, describe, expect, it } from 'vitest';
import { judgementAsJson } from '../../server/commands/judge-output.ts';
import { judgeSession } from '../../server/commands/judge-session.ts';
import { alder7Chart, alder7Checks } from '../../server/demo/index.ts';
import { openSession } from '../../server/recordings/index.ts';
import { judgeStored } from '../../server/recordings/judge-stored.ts';
import { circuitOf } from '../../server/session/chart-circuit.ts';
import { readingOf } from '../../server/session/check-reading.ts';
import { openPty } from '../support/pty.ts';
import { Dashboard, startService } from '../support/service.ts';

const cleanUp: (() => Promise<unknown> | void)[] = [];
afterEach(async () => {
  for (const clean of cleanUp.splice(0).reverse()) await clean();
});

const GROUND = alder7Checks.find(({ id }) => id === 'ground CL-')!;
const circuit = circuitOf(alder7Chart);
const volts = (red: string, open: boolean): number =>
  readingOf(alder7Chart, circuit, { ...GROUND, red }, open ? [{ kind: 'open', at: 'S3 to C2/4' }] : []);
const pause = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));

async function twoMeters() {
  const ports = [await openPty(), await openPty()] as const;
  for (const port of ports) cleanUp.push(() => port.close());
  const service = await startService(ports.flatMap(({ path }) => ['--meter', `serial:${path}?baud=9600&accuracy=0.5%25+2`]));
  cleanUp.push(() => service.dispose());
  const dashboard = await Dashboard.open(service.address);
  cleanUp.push(() => dashboard.close());
  await dashboard.until(() => dashboard.state.meters.every(({ link }) => link.state === 'open') && dashboard.state.meters.length === 2, 'both ports to open');
  expect(await dashboard.ask({ type: 'change-chart', basedOn: dashboard.state.chart.revision, chart: alder7Chart })).toMatchObject({ type: 'done' });
  return { ports, service, dashboard };
}

describe('two meters on one circuit', () => {
  it('say between which points the break lies, live and from the file', async () => {
    const { ports, service, dashboard } = await twoMeters();
    expect(await dashboard.ask({ type: 'watch-beside', meter: 0, leads: { red: 'C2/4', black: 'B-' } })).toMatchObject({ code: 'METER_IN_USE' });
    expect(await dashboard.ask({ type: 'watch-beside', meter: 9, leads: null })).toMatchObject({ code: 'NO_SUCH_METER' });
    expect(await dashboard.ask({ type: 'watch-beside', meter: 1, leads: { red: 'AIRBAG 3', black: 'B-' } })).toMatchObject({ code: 'RESTRAINT_SYSTEM' });
    await dashboard.ask({ type: 'choose', check: GROUND, watching: 'wiggle' });
    await dashboard.ask({ type: 'watch-beside', meter: 1, leads: { red: 'LP-', black: 'B-' } });
    await dashboard.until(() => dashboard.state.beside.message.includes('one line'), 'the word that CL- and LP- are on no one line');
    await dashboard.ask({ type: 'watch-beside', meter: 1, leads: { red: 'C2/4', black: 'B-' } });
    await dashboard.until(() => dashboard.state.beside.meters[0]?.red === 'C2/4' && dashboard.state.beside.message === '', 'the leads of the second meter');

    await dashboard.ask({ type: 'start-take', check: GROUND, watching: 'wiggle', conditionIsMet: true });
    // 20 readings a second on both; the crimp at S3 opens for 0.2 s again and again, until four of its opens were told from the other meter's readings:
    // where a busy machine held those back, there is a gap, and nothing is said of them.
    const told = () => (dashboard.judgement?.judgement.several?.coincidences ?? []).filter(({ missedBy }) => missedBy.length > 0);
    for (let i = 0; i < 400 && told().length < 4; i++) {
      const isOpen = i >= 60 && i % 25 < 4;
      await Promise.all(ports.map((port, m) => port.write(`${(volts(m === 0 ? 'CL-' : 'C2/4', isOpen) + (i % 3) / 1000).toFixed(3)} V DC\r\n`)));
      await pause(50);
    }
    await dashboard.ask({ type: 'stop-take' });
    await dashboard.until(() => dashboard.state.take === null, 'the end of the take');
    const { judgement } = dashboard.judgement!;
    expect(judgement.verdict).not.toBe('pass');
    expect(judgement.several!.places[0]).toMatchObject({ place: { kind: 'between', from: 'CL-', to: 'C2/4' } });
    expect(judgement.several!.places[0]!.chance).toBeGreaterThan(0.9);
    expect(told().length).toBeGreaterThanOrEqual(4);
    for (const { seenBy } of judgement.several!.coincidences) expect(seenBy).toEqual(['CL- to B-']);
    for (const { missedBy } of told()) expect(missedBy).toEqual(['C2/4 to B-']);

    const [listing] = (await (await fetch(`${service.address}/api/sessions`)).json()) as { session: string }[];
    await service.stop();
    const reader = openSession(`${service.recordings}/${listing!.session}.sqlite`);
    cleanUp.push(() => reader.close());
    const [stored] = reader.takes();
    expect(judgeStored(reader, stored!, stored!.take.end!)).toEqual(stored!.judgement);
    expect(stored!.judgement).toEqual(judgement);
    // What the command prints of them is what the screens show.
    const [take] = (JSON.parse(judgeSession(`${service.recordings}/${listing!.session}.sqlite`, true)) as { takes: { judgement: { several: object } }[] }).takes;
    expect(take!.judgement).toEqual(JSON.parse(JSON.stringify(judgementAsJson(judgement))));
    expect(take!.judgement.several).toMatchObject({ message: judgement.several!.message });
  });
});

it('two simulated meters on the demo harness, each at points of its own, fold at the same moments', async () => {
  const service = await startService(['--meter', 'simulated:alder7?interval=0.02&seed=5']);
  cleanUp.push(() => service.dispose());
  const dashboard = await Dashboard.open(service.address);
  cleanUp.push(() => dashboard.close());
  await dashboard.ask({ type: 'choose', check: GROUND, watching: 'wiggle' });
  await pause(1500);
  // Attached later, so that its own time 0 is another.
  await dashboard.ask({ type: 'attach-meter', address: 'simulated:alder7?interval=0.02&seed=77' });
  await dashboard.ask({ type: 'watch-beside', meter: 1, leads: { red: 'S3', black: 'B-' } });
  await dashboard.ask({ type: 'start-take', check: GROUND, watching: 'wiggle', conditionIsMet: true });
  // While a folding goes on, one meter may have told of it and the other not yet.
  await dashboard.until(() => {
    const seen = dashboard.judgement?.judgement.several?.coincidences ?? [];
    return seen.length >= 2 && seen.every(({ seenBy }) => seenBy.length === 2);
  }, 'two foldings, each seen by both', 40_000);
  expect(dashboard.judgement!.judgement.several!.places[0]).toMatchObject({ place: { kind: 'between', from: 'S3', to: 'B-' } });
});
