import { chmod } from 'node:fs/promises';
import { afterEach, describe, expect, it } from 'vitest';
import { portPath } from '../../../drivers/transports/serial.ts';
import { serialTrouble } from '../../../drivers/transports/serial-troubles.ts';
import { openPty, type Pty } from '../../support/pty.ts';
import { until, type WatchedMeter, watchMeter } from '../watch-meter.ts';

const toClose: (() => Promise<void>)[] = [];
afterEach(async () => {
  for (const close of toClose.splice(0).reverse()) await close();
});

async function plugIn(): Promise<Pty> {
  const pty = await openPty();
  toClose.push(() => pty.close());
  return pty;
}

function watch(address: string): WatchedMeter {
  const watched = watchMeter(address);
  toClose.push(() => watched.meter.close());
  return watched;
}

describe('a serial meter on a real pseudo-terminal', () => {
  it('reads what is written on the other end, dated by the chunk that ended each line', async () => {
    const pty = await plugIn();
    const { meter, batches, values } = watch(`serial:${pty.path}?baud=9600`);
    await until(() => meter.status().state === 'open', 'the port to open');
    const before = performance.now() / 1000;
    await pty.write('\n12.34 V DC\r\n12.35 V DC\r\n12.');
    await until(() => values().length === 2, 'two readings');
    await pty.write('36 V DC\r\n');
    await until(() => values().length === 3, 'the third');
    expect(values()).toEqual([12.34, 12.35, 12.36]);
    expect(batches.at(-1)?.readings).toHaveLength(1);
    expect(batches[0]?.arrival).toBeGreaterThanOrEqual(before);
    expect(batches.at(-1)?.arrival).toBeGreaterThan(batches[0]?.arrival as number);
  });

  it('gives no value from the half line that it joins at opening', async () => {
    const pty = await plugIn();
    const { meter, values } = watch(`serial:${pty.path}`);
    await until(() => meter.status().state === 'open', 'the port to open');
    await pty.write('2.34 V\n12.34 V\n');
    await until(() => values().length > 0, 'a reading');
    expect(values()).toEqual([12.34]);
  });

  it('goes on after garbage between lines and counts it', async () => {
    const pty = await plugIn();
    const { meter, values } = watch(`serial:${pty.path}`);
    await until(() => meter.status().state === 'open', 'the port to open');
    await pty.write('\n1.00 V\n');
    await pty.write(Uint8Array.from([0, 255, 128, 7, 49, 46, 200, 10]));
    await pty.write('x'.repeat(9000));
    await pty.write('\n2.00 V\n');
    await until(() => values().includes(2), 'the reading after the garbage');
    expect(values()).toEqual([1, 2]);
    expect(meter.counts().skipped).toBe(2);
    expect(meter.counts().bytes).toBe(8 + 8 + 9000 + 8);
  });

  it('says gone when the cable is pulled and reads on when it is back, joining nothing across', async () => {
    const pty = await plugIn();
    const { meter, statuses, values } = watch(`serial:${pty.path}`);
    await until(() => meter.status().state === 'open', 'the port to open');
    await pty.write('\n1.00 V\n9');
    await until(() => values().length === 1, 'the first reading');
    await pty.unplug();
    await until(() => meter.status().state === 'gone', 'the loss to be noticed');
    expect(meter.status().code).toBe('PORT_GONE');
    await pty.replug();
    const replugged = performance.now();
    await until(() => meter.status().state === 'open', 'the port to open again');
    expect(performance.now() - replugged).toBeLessThan(5000);
    await pty.write('9.99 V\n2.00 V\n');
    await until(() => values().length === 2, 'a reading after replugging');
    expect(values()).toEqual([1, 2]);
    expect(statuses.map((status) => status.state)).toEqual(['open', 'gone', 'open']);
  });

  it('waits for a port that is not there, says so, and opens it when it appears', async () => {
    const pty = await plugIn();
    await pty.unplug();
    const { meter } = watch(`serial:${pty.path}`);
    await until(() => meter.status().code === 'PORT_MISSING', 'the port to be missed');
    expect(meter.status().state).toBe('retry');
    expect(meter.status().message).toContain('Plug the meter in');
    await pty.replug();
    await until(() => meter.status().state === 'open', 'the port to open');
  });

  it('says that a port is busy while another has it open', async () => {
    const pty = await plugIn();
    const first = watch(`serial:${pty.path}`);
    await until(() => first.meter.status().state === 'open', 'the first to open');
    const second = watch(`serial:${pty.path}`);
    await until(() => second.meter.status().code === 'PORT_BUSY', 'the second to be refused');
    expect(second.meter.status().state).toBe('failed');
    await first.meter.close();
    await until(() => second.meter.status().state === 'open', 'the second to get it');
  });

  it('polls a meter that only answers, and sends nothing that was meant for an earlier connection', async () => {
    const pty = await plugIn();
    let heard = '';
    let answers = 0;
    pty.onReceived((bytes) => {
      heard += bytes.toString('latin1');
      if (bytes.includes(0x0a)) void pty.write(`${++answers}.00 V\n`).catch(() => undefined);
    });
    const { meter, values } = watch(`serial:${pty.path}?poll=READ%3F&poll-every=0.05`);
    await until(() => values().length >= 3, 'three answers');
    expect(heard.startsWith('READ?\nREAD?\n')).toBe(true);
    expect(values().slice(0, 3)).toEqual([1, 2, 3]);
    await pty.unplug();
    await until(() => meter.status().state === 'gone', 'the loss to be noticed');
    heard = '';
    await new Promise((resolve) => setTimeout(resolve, 200));
    await pty.replug();
    await until(() => heard !== '', 'polling to go on');
    expect(heard).toBe('READ?\n');
  });

  it('calls a meter silent that stops sending, and open when it speaks again', async () => {
    const pty = await plugIn();
    const { meter, values } = watch(`serial:${pty.path}?silence=0.3`);
    await until(() => meter.status().state === 'open', 'the port to open');
    await pty.write('\n1.00 V\n');
    await until(() => meter.status().state === 'silent', 'silence to be noticed');
    expect(meter.status().message).toContain('switched on');
    await pty.write('2.00 V\n');
    await until(() => meter.status().state === 'open', 'the meter to be back');
    expect(values()).toEqual([1, 2]);
  });
});

describe('what the user is told', () => {
  it('names the owning group and the command when the port is forbidden', async () => {
    const pty = await plugIn();
    await chmod(pty.path, 0o660);
    const status = await serialTrouble(pty.path, new Error(`Error: Permission denied, cannot open ${pty.path}`));
    expect(status).toMatchObject({ state: 'failed', code: 'PORT_FORBIDDEN' });
    expect(status.message).toMatch(/belongs to the group \w+: run "sudo usermod -aG \w+ \w+", then log out and in again/);
  });

  it.each([
    ['Error: No such file or directory, cannot open /dev/ttyUSB9', 'PORT_MISSING'],
    ['Error Resource temporarily unavailable Cannot lock port', 'PORT_BUSY'],
    ['Opening COM3: Access denied', 'PORT_BUSY'],
    ['Error: Invalid argument, cannot set baud', 'PORT_SETTINGS'],
    ['Error: something new', 'PORT_FAILED'],
  ])('serialTrouble("%s") has the code %s', async (text, code) => {
    expect(await serialTrouble('/dev/ttyUSB9', new Error(text))).toMatchObject({ code });
  });

  it.each([
    ['/dev/tty.usbserial-1', 'darwin', '/dev/cu.usbserial-1'],
    ['/dev/ttyUSB0', 'linux', '/dev/ttyUSB0'],
    ['\\\\.\\COM12', 'win32', 'COM12'],
    ['com3', 'win32', 'COM3'],
  ] as const)('portPath(%s, %s) is %s', (path, platform, expected) => {
    expect(portPath(path, platform)).toBe(expected);
  });
});
