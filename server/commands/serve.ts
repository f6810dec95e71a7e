/** `serve`: the service with its dashboard, until Ctrl-C. */
import { isIP } from 'node:net';
import { resolve } from 'node:path';
import { isLoopback } from '../live/index.ts';
import { ServiceError, startService, type ShareOptions } from '../service/index.ts';
import type { CommandIo } from './command.ts';
import { parseOptions } from './parse-options.ts';

const SHARE_PORT = 8471;

/** How long after a clean stop the process may linger. */
const EXIT_PATIENCE_MS = 500;

const HELP = `npm start -- [options]

  --meter ADDRESS     which meter to read; give it again for several meters (default: those of last
                      time, at first the simulated one)
                        simulated:alder7                 no hardware: the demo harness
                        serial:/dev/ttyUSB0?baud=9600    a serial port
                      Parts after "?" are joined with "&". For every meter: accuracy=0.5%25+2 (that is 0.5 % of
                      reading + 2 counts; %25 stands for the percent sign), interval=0.4 and aperture=0.3 in seconds,
                      lead-ohms=0.2, label=NAME. For a serial port: baud, data-bits, parity, stop-bits, dtr, rts.
  --listen HOST:PORT  where the dashboard is served; a loopback address (default 127.0.0.1:8470)
  --share             lets paired phones and other computers of this network in, over HTTPS on port 8471
  --share-at ADDRESS[:PORT]
                      shares on this address of the machine only
  --recordings DIR    where sessions are saved (default recordings)
  --help              this text
`;

export async function serveCommand(args: string[], io: CommandIo): Promise<number> {
  let options;
  try {
    options = parseOptions({
      args,
      options: {
        meter: { type: 'string', multiple: true },
        listen: { type: 'string', default: '127.0.0.1:8470' },
        share: { type: 'boolean', default: false },
        'share-at': { type: 'string' },
        recordings: { type: 'string', default: 'recordings' },
        help: { type: 'boolean', short: 'h', default: false },
      },
    }).values;
  } catch (error) {
    io.stderr.write(`${(error as Error).message}\n\n${HELP}`);
    return 2;
  }
  if (options.help) {
    io.stdout.write(HELP);
    return 0;
  }
  const listen = parseListen(options.listen);
  if (typeof listen === 'string') {
    io.stderr.write(`${listen}\n`);
    return 2;
  }
  const share = parseShare(options.share, options['share-at']);
  if (typeof share === 'string') {
    io.stderr.write(`${share}\n`);
    return 2;
  }

  let service;
  try {
    service = await startService({
      meters: options.meter ?? [], ...listen, recordings: resolve(options.recordings), share,
    });
  } catch (error) {
    if (!(error instanceof ServiceError)) throw error;
    io.stderr.write(`${error.message}\n`);
    return 2;
  }
  io.stdout.write(`Loomtrace is at ${service.address}\n${shareText(share, service.sharedAddresses)}Sessions are saved in ${resolve(options.recordings)}\nStop with Ctrl-C.\n`);
  await new Promise<void>((stop) => {
    // A second Ctrl-C must not cut the closing of the files short.
    process.on('SIGINT', stop);
    process.on('SIGTERM', stop);
    process.on('SIGHUP', stop);
  });
  await service.stop();
  io.stdout.write('Stopped; everything is saved.\n');
  // Everything is closed by now; a port that its system won't let go of must not keep the process alive.
  setTimeout(() => process.exit(0), EXIT_PATIENCE_MS).unref();
  return 0;
}

/** @returns host and port, or a sentence that says what is wrong */
function parseListen(text: string): { host: string; port: number } | string {
  const match = /^(?:\[([^\]]+)\]|([^:]*)):(\d{1,5})$/.exec(text);
  const host = match?.[1] ?? match?.[2] ?? '';
  const port = Number(match?.[3]);
  if (match === null || host === '' || port > 65535) return `--listen takes HOST:PORT, for example 127.0.0.1:8470; not "${text}".`;
  if (!isLoopback(host)) {
    return `--listen takes a loopback address only (127.0.0.1, localhost or [::1]); not "${host}". Start with --share to let other devices in.`;
  }
  return { host, port };
}

/** @returns what to share, null for nothing, or a sentence that says what is wrong */
function parseShare(share: boolean, at: string | undefined): ShareOptions | null | string {
  if (at === undefined) return share ? { address: null, port: SHARE_PORT } : null;
  const match = /^(?:\[([^\]]+)\]|([^:\]]+))(?::(\d{1,5}))?$/.exec(at);
  const address = match?.[1] ?? match?.[2] ?? '';
  const port = Number(match?.[3] ?? SHARE_PORT);
  if (isIP(address) === 0 || port > 65535) return `--share-at takes an IP address of this machine, for example 192.168.1.5 or 192.168.1.5:${SHARE_PORT}; not "${at}".`;
  return { address, port };
}

function shareText(share: ShareOptions | null, addresses: readonly string[]): string {
  if (share === null) return '';
  if (addresses.length === 0) return 'This machine is in no private network now: join one, and other devices can be let in. No restart is needed.\n';
  return `Shared at ${addresses.join(' and ')}: let devices in at the first address, under "Devices"\n`;
}
