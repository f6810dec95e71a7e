import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { addressOfPort, createMeter, listPorts, matchPort, type PortList, type PortListing, watchPorts } from '../../../drivers/index.ts';
import { until } from '../watch-meter.ts';

function port(path: string, serialNumber: string, vendorId = '0403', productId = '6001'): PortListing {
  return { path, maker: 'Cable Works', vendorId, productId, serialNumber, isAdapter: vendorId !== '' };
}

describe('matchPort(ports, identity)', () => {
  const ports = [port('/dev/ttyUSB1', 'A1'), port('/dev/ttyUSB0', 'B2'), port('/dev/ttyUSB2', '', '1a86', '7523'), port('/dev/ttyS0', '', '', '')];
  it('finds an adapter by its serial number under whatever name it has now', () => {
    expect(matchPort(ports, { serialNumber: 'A1' })).toMatchObject({ kind: 'found', port: { path: '/dev/ttyUSB1' } });
    expect(matchPort([port('/dev/ttyUSB7', 'A1')], { serialNumber: 'a1' })).toMatchObject({ kind: 'found', port: { path: '/dev/ttyUSB7' } });
  });
  it('finds one without a serial number by vendor and product', () => {
    expect(matchPort(ports, { vendorId: '1A86', productId: '7523' })).toMatchObject({ kind: 'found', port: { path: '/dev/ttyUSB2' } });
  });
  it('asks rather than guesses between twins', () => {
    expect(matchPort(ports, { vendorId: '0403' })).toMatchObject({ kind: 'ambiguous', ports: [{ serialNumber: 'A1' }, { serialNumber: 'B2' }] });
  });
  it('says missing, and never takes a built-in port for an adapter', () => {
    expect(matchPort(ports, { serialNumber: 'C3' })).toEqual({ kind: 'missing' });
    expect(matchPort([port('/dev/ttyS0', '', '', '')], {})).toEqual({ kind: 'missing' });
  });
});

describe('addressOfPort(port)', () => {
  it('names the adapter, not the port, where the adapter can be told', () => {
    const address = addressOfPort(port('/dev/ttyUSB1', 'A 1/x'));
    expect(address).toBe('serial:*?vendor=0403&product=6001&serial-number=A%201%2Fx');
    expect(createMeter(address).traits.label).toBe('A 1/x');
    expect(addressOfPort(port('/dev/ttyUSB1', ''))).toBe('serial:/dev/ttyUSB1');
  });
});

describe('listPorts()', () => {
  it('lists or says why not, and never throws, with or without the tools of the system', async () => {
    const list = await listPorts();
    expect(list.ports.length === 0 || list.message === '').toBe(true);
    const path = process.env['PATH'];
    process.env['PATH'] = '/nonexistent';
    try {
      const without = await listPorts();
      if (process.platform === 'linux') expect(without.message).toBe('The ports of this computer can\'t be listed (udevadm, the program that lists them, is not installed); type the path of the port instead.');
      else expect(without.message === '' || without.message.includes('type the path')).toBe(true);
    } finally {
      process.env['PATH'] = path;
    }
  });
});

describe('watchPorts(onChange)', () => {
  it('tells the list at once, and again when a device comes, but not when nothing changed', async () => {
    const folder = await mkdtemp(join(tmpdir(), 'loomtrace-dev-'));
    let ports: PortListing[] = [port('/dev/ttyUSB0', 'A1')];
    const told: PortList[] = [];
    const watching = watchPorts((list) => void told.push(list), folder, () => Promise.resolve({ ports, message: '' }));
    try {
      await until(() => told.length === 1, 'the first list');
      await writeFile(join(folder, 'other'), '');
      await new Promise((resolve) => setTimeout(resolve, 300));
      expect(told).toHaveLength(1);
      ports = [...ports, port('/dev/ttyUSB1', 'B2')];
      await writeFile(join(folder, 'ttyUSB1'), '');
      await until(() => told.length === 2, 'the second list');
      expect(told[1]?.ports).toHaveLength(2);
    } finally {
      watching.stop();
      await rm(folder, { recursive: true });
    }
  });
});

describe('addresses of adapters', () => {
  it.each([['serial:*', 'names no adapter'], ['serial:/dev/ttyUSB0?serial-number=A1', 'write serial:*']])('%s is refused: %s', (address, hint) => {
    expect(() => createMeter(address)).toThrow(hint);
  });
});
