/**
 * The real service under the greatest load that it promises to bear: records 8 meters on network sockets at 10,000 readings a
 * second each, streams them to a dashboard, and answers the review of a long session, while its memory is measured.
 */
import { readFileSync } from 'node:fs';
import { createServer, type Server, type Socket } from 'node:net';
import { Library } from '../../../server/recordings/index.ts';
import { Dashboard, startService, type StartedService } from '../../support/service.ts';

const METERS = 8;
const RATE = 10_000;
const EVERY_MS = 50;
const COLUMNS = 1500;

/** A meter behind a network bridge: lines of text, in chunks, as fast as it is told to. */
interface NetworkMeter {
  readonly address: string;
  send(lines: string): void;
  close(): Promise<void>;
}

async function networkMeter(): Promise<NetworkMeter> {
  const sockets = new Set<Socket>();
  const server: Server = createServer((socket) => {
    sockets.add(socket);
    socket.on('error', () => undefined).on('close', () => sockets.delete(socket));
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const { port } = server.address() as { port: number };
  return {
    address: `tcp:127.0.0.1:${port}?interval=${1 / RATE}`,
    send: (lines) => { for (const socket of sockets) socket.write(lines); },
    close: () => new Promise((resolve) => {
      for (const socket of sockets) socket.destroy();
      server.close(() => resolve());
    }),
  };
}

/** Resident set and proportional set (shared pages counted by share), MB, of one process. */
function memoryOf(pid: number): { rss: number; pss: number } {
  const rollup = readFileSync(`/proc/${pid}/smaps_rollup`, 'utf8');
  const mb = (name: string) => Number(new RegExp(`^${name}:\\s+(\\d+) kB`, 'm').exec(rollup)?.[1]) / 1024;
  return { rss: mb('Rss'), pss: mb('Pss') };
}

/** @param folder of the long session, which the service records into as well */
export async function soak(folder: string, session: string, seconds: number): Promise<object> {
  const meters = await Promise.all(Array.from({ length: METERS }, networkMeter));
  const service = await startService(meters.flatMap(({ address }) => ['--meter', address]), folder);
  try {
    const idle = memoryOf(service.process.pid!);
    const dashboard = await Dashboard.open(service.address);
    await dashboard.until(() => dashboard.state.meters.every(({ link }) => link.state === 'open'), 'the meters to open');
    // The first line after a port is opened may be half a line: it is let go.
    for (const meter of meters) meter.send('12.000 V\r\n12.000 V\r\n');
    await dashboard.until(() => dashboard.state.meters.every(({ counts }) => counts.readings > 0), 'a reading of every meter');
    await dashboard.ask({ type: 'start-take', check: dashboard.state.check, watching: 'wiggle' });
    const load = await underLoad(service, meters, dashboard, session, seconds);
    await dashboard.ask({ type: 'stop-take' });
    const name = dashboard.state.recording.file;
    dashboard.close();
    await service.stop();
    return { meters: METERS, readings_a_second_each: RATE, seconds, idle_mb: rounded(idle), ...load, recorded: await recorded(folder, name!) };
  } finally {
    await service.stop('SIGKILL');
    await Promise.all(meters.map((meter) => meter.close()));
  }
}

async function underLoad(service: StartedService, meters: readonly NetworkMeter[], dashboard: Dashboard, session: string, seconds: number): Promise<{ sent: number; largest_mb: object }> {
  const perChunk = (RATE * EVERY_MS) / 1000;
  const chunks = Array.from({ length: 40 }, (_, round) => chunkOf(perChunk, round));
  const largest = { rss: 0, pss: 0 };
  const queries: number[] = [];
  const start = performance.now();
  const until = start + seconds * 1000;
  let rounds = 0;
  const sending = setInterval(() => {
    // As a real meter: what a late timer owes is sent all the same.
    for (const due = Math.floor((performance.now() - start) / EVERY_MS); rounds < due; rounds++) {
      for (const [i, meter] of meters.entries()) meter.send(chunks[(rounds + i) % chunks.length]!);
    }
    dashboard.frames.length = 0;
  }, EVERY_MS);
  const measuring = setInterval(() => {
    const now = memoryOf(service.process.pid!);
    largest.rss = Math.max(largest.rss, now.rss);
    largest.pss = Math.max(largest.pss, now.pss);
  }, 100);
  const cpu = cpuSeconds(service.process.pid!);
  for (let window = 0; performance.now() < until; window++) {
    const before = performance.now();
    const from = (window % 50) * 100;
    const path = `/api/sessions/${session}/takes/1/trace?meter=0&from=${from}&to=${from + 10_000 / 4 ** (window % 8)}&columns=${COLUMNS}`;
    const response = await fetch(service.address + path);
    if (!response.ok) throw new Error(await response.text());
    await response.arrayBuffer();
    queries.push(performance.now() - before);
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
  const used = (cpuSeconds(service.process.pid!) - cpu) / seconds;
  clearInterval(sending);
  // Sockets hold what a busy machine has not read yet.
  const sent = rounds * perChunk * meters.length;
  await dashboard.until(() => dashboard.state.meters.reduce((sum, { counts }) => sum + counts.readings, 0) >= sent, 'all readings', 60_000);
  clearInterval(measuring);
  queries.sort((a, b) => a - b);
  const load = {
    sent, largest_mb: rounded(largest), cores_used: Number(used.toFixed(2)),
    trouble: dashboard.state.recording.message, review_answer_ms: { median: Math.round(queries[queries.length >> 1]!), max: Math.round(queries.at(-1)!) },
  };
  return load;
}

/** A supply of 12 V with noise and a one-sample dropout now and then. */
function chunkOf(lines: number, round: number): string {
  let text = '';
  for (let i = 0; i < lines; i++) {
    const isOpen = round === 7 && i === 123;
    text += `${isOpen ? '0.012' : (12 + ((i * 7919 + round * 104_729) % 11) / 1000).toFixed(3)} V\r\n`;
  }
  return text;
}

/** Ticks of 10 ms that a process has used in all threads. */
function cpuSeconds(pid: number): number {
  const fields = readFileSync(`/proc/${pid}/stat`, 'utf8').split(') ')[1]!.split(' ');
  return (Number(fields[11]) + Number(fields[12])) / 100;
}

async function recorded(folder: string, session: string): Promise<number> {
  const library = Library.open({ folder });
  let samples = 0;
  for (let meter = 0; meter < METERS; meter++) samples += (await library.samples(session, 1, meter, 0, 1)).total;
  await library.close();
  return samples;
}

function rounded({ rss, pss }: { rss: number; pss: number }): object {
  return { rss: Math.round(rss), pss: Math.round(pss) };
}
