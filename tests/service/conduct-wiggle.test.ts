/** A wiggle take from beginning to end on the demo harness, with a clock of its own; recorder, file and judging are the real ones. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { createDemo } from '../../server/demo/index.ts';
import { Library, Recorder } from '../../server/recordings/index.ts';
import { judgeStored } from '../../server/recordings/judge-stored.ts';
import { SessionReader } from '../../server/recordings/session-reader.ts';
import { Conduct, type SessionState } from '../../server/service/conduct.ts';
import { LocateThread } from '../../server/service/locate-thread.ts';
import type { MeterRecord } from '../../server/session/session.ts';
import { Random } from '../signals/index.ts';

const INTERVAL = 0.05;
const METER: MeterRecord = {
  index: 0, address: 'simulated:alder7', label: 'test', simulated: true, interval: INTERVAL, aperture: INTERVAL, accuracy: { fraction: 0.005, counts: 2 }, leadOhms: null,
};
const cleanUp: (() => Promise<unknown> | void)[] = [];
afterEach(async () => {
  for (const clean of cleanUp.splice(0).reverse()) await clean();
});

/** @param battery  volts across the battery, watched by a second meter; what it loses, the circuit loses */
function bench(battery: ((time: number) => number) | null = null) {
  const folder = mkdtempSync(join(tmpdir(), 'loomtrace-conduct-'));
  cleanUp.push(() => rmSync(folder, { recursive: true, force: true }));
  const recorder = Recorder.open({ folder, onAcknowledged: () => undefined, onTrouble: (trouble) => { throw new Error(trouble.message); }, onRecovered: () => undefined });
  cleanUp.push(() => recorder.close());
  const demo = createDemo(7);
  const random = new Random(11);
  const locateThread = new LocateThread();
  cleanUp.push(() => locateThread.close());
  let clock = 0;
  let slip = { from: Infinity, to: Infinity };
  const files: (string | null)[] = [];
  const told: { at: number; departures: number }[] = [];
  const conduct = new Conduct({
    recorder, now: () => clock, meters: () => (battery === null ? [METER] : [METER, { ...METER, index: 1 }]), judgedMeter: () => 0,
    onChosen: (check) => demo.choose(check), onHands: (hands) => demo.follow(hands), onBeside: (leads) => demo.place(leads), onJudged: () => undefined,
    onDeparture: (_take, departures) => void told.push({ at: clock, departures }),
    locateThread, onLocated: () => undefined, onFile: (file) => void files.push(file),
  }, demo.chart, demo.defaultCheck);
  const send = (meter: number, volts: number): void => {
    const value = Math.round((volts + 0.001 * random.gauss()) * 1000) / 1000;
    conduct.onReadings({
      meter, times: Float64Array.of(clock), arrival: clock,
      readings: [{ quantity: 'voltage', coupling: 'dc', value, resolution: 0.001, flags: 0 }],
    });
  };
  /** Lets time pass, until `isEnough`. @throws {Error} when it isn't within the time */
  const run = (seconds: number, isEnough: (state: SessionState) => boolean = () => false): void => {
    const end = clock + seconds;
    for (let step = 1; clock < end; step++) {
      clock = Math.round((clock + INTERVAL) * 1e6) / 1e6;
      if (battery !== null) send(1, battery(clock));
      send(0, clock >= slip.from && clock < slip.to ? 0 : demo.signal.at(clock) - (battery === null ? 0 : 12.5 - battery(clock)));
      if (step % 20 === 0 && isEnough(conduct.state())) return;
    }
    if (isEnough.length > 0) throw new Error(`not within ${seconds} s: ${JSON.stringify(conduct.state().rig)}`);
  };
  /** A lead slips off in a while, s, for 0.3 s. */
  const slipIn = (seconds: number): void => { slip = { from: clock + seconds, to: clock + seconds + 0.3 }; };
  return { told, slipIn, folder, recorder, demo, conduct, run, state: () => conduct.state(), file: () => files.findLast((file) => file !== null)! };
}

describe('a wiggle take of the demo', () => {
  it('proves the leads, paces the zones, asks for the leads again, ends by itself at the hidden fault, and the file tells the same', async () => {
    const { folder, recorder, demo, conduct, run, state, file } = bench();
    demo.setFault('splice-flex');
    conduct.carryOut({ type: 'acknowledge', caution: 'held-up' });
    conduct.carryOut({ type: 'start-take', check: demo.defaultCheck, watching: 'wiggle', conditionIsMet: true, endsItself: true });
    expect(state().rig.state).toBe('unproved');
    conduct.carryOut({ type: 'prove-rig', isRunning: true });
    run(9.9);
    expect(state().rig.state).toBe('proving');
    run(0.2);
    expect(state().rig).toMatchObject({ state: 'proved', dropouts: 0 });
    conduct.carryOut({ type: 'provoke', provocations: ['tug', 'flex'] });
    conduct.carryOut({ type: 'pace', seconds: 20 });
    run(1);
    expect(state().wiggle).toMatchObject({ zone: 'gantry to conveyor clutch', pace: { message: 'Zone 1, gantry to conveyor clutch: flex for 20 s.' } });
    run(100, ({ rig }) => rig.state === 'again');
    expect(state().wiggle.zone).toBe('gantry, in the loom');
    conduct.carryOut({ type: 'prove-rig', isRunning: true });
    expect(state().wiggle.zone).toBeNull();
    run(11, ({ rig }) => rig.state === 'proved');
    run(600, ({ take }) => take === null);
    const { take, verdict } = state().ended[0]!;
    expect(take).toMatchObject({ ending: 'zone-found', account: { flexes: 0, proofs: [{ isWhole: true }, { isWhole: true }], provocations: [{ provocations: ['flex', 'tug'] }] } });
    expect(verdict).toBe('intermittent');
    const { judgement } = conduct.judged!;
    await recorder.close();

    const reader = new SessionReader(join(folder, `${file()}.sqlite`));
    const stored = reader.takes()[0]!;
    expect(stored.judgement).toEqual(judgement);
    expect(judgeStored(reader, stored, stored.take.end!)).toEqual(judgement);
    reader.close();
    const library = Library.open({ folder });
    expect(await library.document(file(), 'cautions')).toMatchObject([{ id: 'held-up', check: 'ground CL-' }]);
    expect(await library.document(file(), 'chart')).toEqual(demo.chart);
    await library.close();
  });

  it('paces no further once the source is found, and ends when the leads are proved again', async () => {
    const { recorder, demo, conduct, run, state } = bench();
    demo.setFault('splice-flex');
    conduct.carryOut({ type: 'start-take', check: demo.defaultCheck, watching: 'wiggle', conditionIsMet: true, endsItself: true });
    conduct.carryOut({ type: 'pace', seconds: 20 });
    run(600, ({ wiggle }) => (wiggle.report?.source ?? null) !== null);
    run(1);
    expect(state()).toMatchObject({ wiggle: { paceSeconds: null, pace: null, zone: null, report: { source: 'gantry, in the loom' } }, rig: { state: 'unproved' } });
    conduct.carryOut({ type: 'prove-rig', isRunning: true });
    run(15, ({ take }) => take === null);
    expect(state().ended[0]).toMatchObject({ verdict: 'intermittent', take: { ending: 'zone-found' } });
    await recorder.close();
  });

  it('ends by itself when the claim is met: no fault, a minute of flexing after the proof', async () => {
    const { recorder, demo, conduct, run, state } = bench();
    demo.setFault('none');
    conduct.carryOut({ type: 'start-take', check: demo.defaultCheck, watching: 'wiggle', conditionIsMet: true, endsItself: true });
    conduct.carryOut({ type: 'prove-rig', isRunning: true });
    run(10.1);
    const from = state().take!.start;
    run(80, ({ take }) => take === null);
    expect(state().ended[0]).toMatchObject({ verdict: 'pass', take: { ending: 'claim-met' } });
    // -ln(0.05) / 0.05 = 59.9 flexed seconds, the proof not counted; a little more where a dropout of 0.1 s could be missed.
    const lasted = state().ended[0]!.take.end! - from;
    expect(lasted).toBeGreaterThan(69.9);
    expect(lasted).toBeLessThan(75);
    await recorder.close();
  });

  it('begins a new take when leads that slipped are proved again', async () => {
    const { recorder, demo, conduct, run, state, slipIn } = bench();
    demo.setFault('none');
    const supply = state().checks.find(({ id }) => id === 'supply CL+')!;
    conduct.carryOut({ type: 'start-take', check: supply, watching: 'wiggle', conditionIsMet: true });
    run(3);
    conduct.carryOut({ type: 'prove-rig', isRunning: true });
    slipIn(4);
    run(10, ({ rig }) => rig.state === 'loose');
    run(3);
    expect(conduct.judged!.judgement.verdict).toBe('undecided');
    conduct.carryOut({ type: 'prove-rig', isRunning: true });
    expect(state()).toMatchObject({ take: { id: 2 }, condition: { isMet: true }, rig: { state: 'proving', dropouts: 0 } });
    run(11);
    expect(state().rig.state).toBe('proved');
    await recorder.close();
  });

  it('tells a dip of the battery from a fault of the harness by the second meter, live and from the file', async () => {
    const dips = [20, 25, 30, 35];
    const { told, folder, recorder, demo, conduct, run, state, file } = bench((time) => (dips.some((at) => time >= at && time < at + 0.2) ? 6 : 12.5));
    demo.setFault('none');
    conduct.carryOut({ type: 'refer-to', meter: 1 });
    const supply = state().checks.find(({ id }) => id === 'supply CL+')!;
    conduct.carryOut({ type: 'start-take', check: supply, watching: 'wiggle', conditionIsMet: true });
    run(45);
    expect(state().reference).toMatchObject({ meter: 1, message: expect.stringMatching(/^4 dropouts together with a dip of the battery: the source/) as string });
    conduct.carryOut({ type: 'stop-take' });
    const { judgement } = conduct.judged!;
    expect(judgement.verdict).toBe('undecided');
    expect(judgement.dropouts).toHaveLength(4);
    // What chirps is told with the first reading that shows the return, not with the next judgement.
    expect(told.map(({ departures }) => departures)).toEqual([1, 2, 3, 4]);
    told.forEach(({ at }, k) => expect(at - judgement.dropouts[k]!.end).toBeLessThan(1.5 * INTERVAL));
    await recorder.close();
    const reader = new SessionReader(join(folder, `${file()}.sqlite`));
    const stored = reader.takes()[0]!;
    expect(judgeStored(reader, stored, stored.take.end!)).toEqual(judgement);
    reader.close();
  });
});
