import { afterEach, describe, expect, it } from 'vitest';
import type { MeterRecord } from '../../server/session/session.ts';
import { openPty } from '../support/pty.ts';
import { Dashboard, startService } from '../support/service.ts';

const cleanUp: (() => Promise<unknown> | void)[] = [];
afterEach(async () => {
  for (const clean of cleanUp.splice(0).reverse()) await clean();
});

async function begin(): Promise<Dashboard> {
  const service = await startService([]);
  cleanUp.push(() => service.dispose());
  const dashboard = await Dashboard.open(service.address);
  cleanUp.push(() => dashboard.close());
  return dashboard;
}

describe('meters of a running service', () => {
  it('a meter attached from the dashboard is read at once, and can be the one that judges', async () => {
    const dashboard = await begin();
    const pty = await openPty();
    cleanUp.push(() => pty.close());
    const answer = await dashboard.ask({ type: 'attach-meter', address: `serial:${pty.path}?baud=9600&label=second` });
    expect(answer).toMatchObject({ type: 'done' });
    const { index } = (answer as { result: MeterRecord }).result;
    expect(index).toBe(1);
    await dashboard.until(() => dashboard.state.meters[1]?.link.state === 'open', 'the port to open');
    await dashboard.ask({ type: 'judge-by', meter: index });
    await dashboard.ask({ type: 'start-take', check: dashboard.state.check, watching: 'spot' });
    const feed = setInterval(() => void pty.write('4.321 V DC\r\n'), 30);
    await dashboard.until(() => Math.abs((dashboard.judgement?.judgement.level ?? 0) - 4.321) < 0.002, 'the level of the second meter');
    clearInterval(feed);
    // Both meters are recorded side by side in the same take.
    const meters = new Set(dashboard.frames.filter((frame) => frame.take === 1).map((frame) => frame.meter));
    expect([...meters].sort()).toEqual([0, 1]);
    expect(await dashboard.ask({ type: 'detach-meter', meter: 1 })).toMatchObject({ type: 'refused', code: 'METER_IN_USE' });
    await dashboard.ask({ type: 'stop-take' });
    expect(await dashboard.ask({ type: 'detach-meter', meter: 1 })).toMatchObject({ type: 'done' });
    await dashboard.until(() => dashboard.state.meters.length === 1 && dashboard.state.judgedMeter === 0, 'the meter to be gone');
  });

  it('without a simulated meter the checks are made by hand; with one again the demo harness is back', async () => {
    const dashboard = await begin();
    expect(dashboard.state.simulation).not.toBeNull();
    await dashboard.ask({ type: 'detach-meter', meter: 0 });
    await dashboard.until(() => dashboard.state.simulation === null, 'the demo to go');
    expect(dashboard.state.checks.every((check) => check.red === '')).toBe(true);
    await dashboard.ask({ type: 'attach-meter', address: 'simulated:alder7?seed=3' });
    await dashboard.until(() => dashboard.state.simulation !== null && dashboard.state.judgedMeter === 1, 'the demo to come back');
  });

  it.each([
    ['serial:', 'BAD_ADDRESS'], ['nonsense', 'BAD_ADDRESS'], ['simulated:elsewhere', 'BAD_ADDRESS'], ['serial:/dev/x?baud=fast', 'BAD_ADDRESS'],
  ])('refuses the address %s and says what to write', async (address, code) => {
    const dashboard = await begin();
    const answer = await dashboard.ask({ type: 'attach-meter', address });
    expect(answer).toMatchObject({ type: 'refused', code });
    expect(dashboard.state.meters).toHaveLength(1);
  });

  it('what the user says of the meter counts at once: without an accuracy the verdict is withheld', async () => {
    const service = await startService([]);
    cleanUp.push(() => service.dispose());
    const dashboard = await Dashboard.open(service.address);
    cleanUp.push(() => dashboard.close());
    await dashboard.ask({ type: 'describe-meter', meter: 0, accuracy: null });
    await dashboard.ask({ type: 'simulate', fault: 'none' });
    await dashboard.ask({ type: 'start-take', check: dashboard.state.check, watching: 'spot', conditionIsMet: true });
    await dashboard.until(() => (dashboard.judgement?.judgement.steady.length ?? 0) > 0, 'a steady reading');
    expect(dashboard.judgement!.judgement.verdict).toBe('undecided');
    expect(dashboard.judgement!.judgement.reasons.join(' ')).toMatch(/accuracy/i);
    await dashboard.ask({ type: 'describe-meter', meter: 0, accuracy: { fraction: 0.005, counts: 2 } });
    await dashboard.until(() => dashboard.judgement!.judgement.verdict === 'pass', 'the verdict');
    expect(await dashboard.ask({ type: 'describe-meter', meter: 0, interval: 0.1, aperture: 0.2 })).toMatchObject({ type: 'refused', code: 'APERTURE_TOO_LONG' });
    expect(await dashboard.ask({ type: 'describe-meter', meter: 9, leadOhms: 0.2 })).toMatchObject({ type: 'refused', code: 'NO_SUCH_METER' });
  });

  it('have their leads nulled by eight steady readings of ohms, and by nothing else', async () => {
    const dashboard = await begin();
    const pty = await openPty();
    cleanUp.push(() => pty.close());
    const { index } = ((await dashboard.ask({ type: 'attach-meter', address: `serial:${pty.path}?baud=9600` })) as { result: MeterRecord }).result;
    await dashboard.until(() => dashboard.state.meters[1]?.link.state === 'open', 'the port to open');
    const readings = async (texts: string[]) => {
      const before = dashboard.frames.filter((frame) => frame.meter === index).length;
      for (const text of texts) await pty.write(`${text}\r\n`);
      await dashboard.until(() => dashboard.frames.filter((frame) => frame.meter === index).length > before, 'the readings');
      await new Promise((resolve) => setTimeout(resolve, 100));
    };
    const nulled = () => dashboard.ask({ type: 'null-leads', meter: index });
    await readings(Array.from({ length: 9 }, () => '12.50 V DC'));
    expect(await nulled()).toMatchObject({ type: 'refused', code: 'LEADS_NOT_NULLED', message: expect.stringMatching(/ohms/) as string });
    await readings(Array.from({ length: 8 }, () => '14.80 Ohm'));
    expect(await nulled()).toMatchObject({ type: 'refused', message: expect.stringMatching(/too much for leads/) as string });
    await readings(Array.from({ length: 8 }, (_, i) => (i % 2 === 0 ? '0.21 Ohm' : '0.22 Ohm')));
    expect(await nulled()).toMatchObject({ type: 'done', result: 0.215 });
    await dashboard.until(() => dashboard.state.meters[1]?.leadOhms === 0.215, 'the leads to be known');
  });

  it('are remembered, with what the user said of them, and read again at the next start', async () => {
    const pty = await openPty();
    cleanUp.push(() => pty.close());
    const address = `serial:${pty.path}?baud=9600`;
    const first = await startService([]);
    cleanUp.push(() => first.dispose());
    const before = await Dashboard.open(first.address);
    const { index } = ((await before.ask({ type: 'attach-meter', address })) as { result: MeterRecord }).result;
    await before.ask({ type: 'describe-meter', meter: index, accuracy: { fraction: 0.01, counts: 3 }, label: 'bench meter', isolated: true });
    await before.ask({ type: 'detach-meter', meter: 0 });
    before.close();
    await first.stop();
    const again = await startService([], first.recordings);
    cleanUp.push(() => again.dispose());
    const after = await Dashboard.open(again.address);
    cleanUp.push(() => after.close());
    expect(after.state.meters).toMatchObject([{ address, label: 'bench meter', isolated: true, accuracy: { fraction: 0.01, counts: 3 } }]);
    expect(after.state.ports.message).toBe('');
  });
});
