/** How long until every screen shows what one of them changed: the main screen and three paired devices over HTTPS, while eight meters are read. */
import type { WebSocket } from 'ws';
import type { ServerMessage } from '../../server/live/protocol.ts';
import { openSocket, pairDevice, startShared } from '../support/shared-service.ts';
import { Dashboard } from '../support/service.ts';

const CHANGES = 100;
const METERS = 8;

async function run(): Promise<object> {
  const service = await startShared(undefined, Array.from({ length: METERS }, (_, i) => ['--meter', `simulated:alder7?seed=${i}`]).flat());
  const main = await Dashboard.open(service.address);
  const heardAt: number[] = [];
  const devices: WebSocket[] = [];
  for (let i = 0; i < 3; i++) {
    await openSocket(service, { origin: service.shared, cookie: await pairDevice(service, 'control') }, (socket) => devices.push(socket));
  }
  let wanted = '';
  devices.forEach((device, i) => device.on('message', (data, isBinary) => {
    if (isBinary) return;
    const message = JSON.parse(String(data)) as ServerMessage;
    if (message.type === 'state' && message.state.session.title === wanted) heardAt[i] ??= performance.now();
  }));
  const delaysMs: number[] = [];
  const bareMs: number[] = [];
  for (let i = 0; i < CHANGES; i++) {
    // A bare ping on one of the same connections, for the ratio: what the machine and the link take by themselves.
    bareMs.push(await pingMs(devices[0]!));
    heardAt.length = 0;
    wanted = `change ${i}`;
    const at = performance.now();
    await main.ask({ type: 'describe', basedOn: main.state.sessionRevision, title: wanted });
    while (heardAt.filter((time) => time !== undefined).length < devices.length || main.state.session.title !== wanted) await new Promise((resolve) => setTimeout(resolve, 1));
    delaysMs.push(Math.max(...heardAt) - at);
  }
  main.close();
  for (const device of devices) device.terminate();
  await service.dispose();
  const quantile = (share: number, of = delaysMs): number => Number(of.toSorted((a, b) => a - b)[Math.floor(share * (CHANGES - 1))]!.toFixed(2));
  return { screens: 4, meters: METERS, changes: CHANGES, lastScreenMs: { median: quantile(0.5), p95: quantile(0.95), worst: quantile(1) }, barePingMs: { median: quantile(0.5, bareMs), p95: quantile(0.95, bareMs) }, within100ms: delaysMs.filter((ms) => ms <= 100).length / CHANGES };
}

function pingMs(socket: WebSocket): Promise<number> {
  const at = performance.now();
  return new Promise((resolve) => {
    socket.once('pong', () => resolve(performance.now() - at));
    socket.ping();
  });
}

export default { name: 'sharing', run };
