/**
 * The whole path on a real pty: from the byte written at the meter's end to the frame received by a websocket client, and
 * the highest rate of lines that port, decoder, detector, recording and hub keep up with, nothing lost.
 */
import { Library } from '../../server/recordings/index.ts';
import { Dashboard, startService } from '../support/service.ts';
import { openPty } from '../support/pty.ts';

const LATENCY_SAMPLES = 2_000;
const LINES = 600_000;

function quantile(sorted: readonly number[], q: number): number {
  return sorted[Math.min(sorted.length - 1, Math.floor(q * sorted.length))] ?? NaN;
}

async function measureLatency(): Promise<object> {
  const pty = await openPty();
  const service = await startService(['--meter', `serial:${pty.path}?baud=115200`]);
  const dashboard = await Dashboard.open(service.address);
  await dashboard.until(() => dashboard.state.meters[0]?.link.state === 'open', 'the port to open');
  await pty.write('0.000 V\r\n'.repeat(2));
  await dashboard.until(() => dashboard.frames.length > 0, 'the first reading');
  await dashboard.ask({ type: 'start-take', check: dashboard.state.check, watching: 'wiggle' });
  const sent = new Float64Array(LATENCY_SAMPLES + 1);
  const latencies: number[] = [];
  dashboard.socket.on('message', (_data, isBinary) => {
    if (!isBinary) return;
    const now = performance.now();
    for (const value of dashboard.frames.at(-1)!.value) {
      const index = Math.round(value * 1000);
      if (index > 0) latencies.push(now - sent[index]!);
    }
  });
  for (let i = 1; i <= LATENCY_SAMPLES; i++) {
    sent[i] = performance.now();
    pty.write(`${(i / 1000).toFixed(3)} V\r\n`);
    await new Promise((resolve) => setTimeout(resolve, 10));
  }
  await dashboard.until(() => latencies.length === LATENCY_SAMPLES, 'every reading');
  dashboard.close();
  await service.dispose();
  await pty.close();
  latencies.sort((a, b) => a - b);
  return {
    readings: latencies.length, readings_per_s: 100,
    p50_ms: quantile(latencies, 0.5), p99_ms: quantile(latencies, 0.99), max_ms: latencies.at(-1),
  };
}

async function measureThroughput(): Promise<object> {
  const pty = await openPty();
  const service = await startService(['--meter', `serial:${pty.path}?baud=115200&interval=0.00001`]);
  const dashboard = await Dashboard.open(service.address);
  await dashboard.until(() => dashboard.state.meters[0]?.link.state === 'open', 'the port to open');
  await pty.write('0.000 V\r\n'.repeat(2));
  await dashboard.until(() => (dashboard.state.meters[0]?.counts.readings ?? 0) > 0, 'the first reading');
  await dashboard.ask({ type: 'start-take', check: dashboard.state.check, watching: 'wiggle' });
  const before = Date.now();
  const block = 10_000;
  const wanted = LINES + (dashboard.state.meters[0]?.counts.readings ?? 0);
  for (let first = 0; first < LINES; first += block) {
    let text = '';
    for (let i = first; i < first + block; i++) text += `${(12 + (i % 7) / 1000).toFixed(3)} V\r\n`;
    await pty.write(text);
  }
  const read = async () => {
    // Asking for a mark makes the service send its state with fresh counts.
    await dashboard.ask({ type: 'flex', count: 1 });
    await new Promise((resolve) => setTimeout(resolve, 20));
    return dashboard.state.meters[0]!.counts;
  };
  let counts = await read();
  while (counts.readings + counts.skipped < wanted && Date.now() - before < 60_000) counts = await read();
  const elapsed = (Date.now() - before) / 1000;
  await dashboard.ask({ type: 'stop-take' });
  dashboard.close();
  await service.stop();
  const library = Library.open({ folder: service.recordings });
  const recorded = (await library.contents((await library.list())[0]!.session)).takes[0]!.samples;
  await library.close();
  await service.dispose();
  await pty.close();
  return { lines: LINES, read: counts.readings - (wanted - LINES), recorded, skipped: counts.skipped, seconds: elapsed, lines_per_s: LINES / elapsed };
}

export default {
  name: 'path',
  run: async (): Promise<object> => ({ latency: await measureLatency(), throughput: await measureThroughput() }),
};
