import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { MeterMemory } from '../../server/service/meter-memory.ts';

let folder: string;
let file: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'loomtrace-memory-'));
  file = join(folder, 'meters.json');
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

const ADAPTER = 'serial:*?vendor=0403&product=6001&serial-number=A1';

describe('MeterMemory', () => {
  it('knows a meter again by its serial number, whatever its baud rate and decoder', () => {
    const memory = new MeterMemory(file);
    memory.learn(`${ADAPTER}&baud=9600`, { label: 'bench', leadOhms: 0.1 });
    memory.learn(`${ADAPTER}&baud=2400`, { leadOhms: 0.2, ranges: [{ quantity: 'voltage', coupling: 'dc', upTo: 6, fraction: 0.005, counts: 2 }] });
    memory.setAttached([`${ADAPTER}&baud=2400`]);
    const again = new MeterMemory(file);
    expect(again.profile(`${ADAPTER}&baud=19200&decoder=scpi`)).toMatchObject({ label: 'bench', leadOhms: 0.2, ranges: [{ upTo: 6 }] });
    expect(again.profile('serial:*?vendor=0403&product=6001&serial-number=A2')).toEqual({});
    expect(again.attached()).toEqual([`${ADAPTER}&baud=2400`]);
  });

  it('takes over everything from a file of version 1, which knew meters by their whole address', () => {
    writeFileSync(file, JSON.stringify({
      attached: ['tcp:10.0.0.2:4001?label=far'],
      profiles: {
        [`${ADAPTER}&baud=9600`]: { label: 'bench', accuracy: { fraction: 0.005, counts: 2 }, calibrated: 'in spring', isolated: true },
        [`${ADAPTER}&baud=2400`]: { leadOhms: 0.2 },
        'tcp:10.0.0.2:4001?label=far': { interval: 0.5, aperture: null },
      },
    }));
    const memory = new MeterMemory(file);
    memory.setAttached(memory.attached());
    const again = new MeterMemory(file);
    expect(again.attached()).toEqual(['tcp:10.0.0.2:4001?label=far']);
    expect(again.profile(ADAPTER)).toEqual({ label: 'bench', accuracy: { fraction: 0.005, counts: 2 }, calibrated: 'in spring', isolated: true, leadOhms: 0.2 });
    expect(again.profile('tcp:10.0.0.2:4001')).toEqual({ interval: 0.5, aperture: null });
  });

  it('keeps what it cannot read: a profile in its place, a broken file beside', () => {
    writeFileSync(file, JSON.stringify({ version: 3, attached: [], profiles: { [ADAPTER]: { label: 'bench' }, 'serial:/dev/ttyUSB0': { fromTheFuture: 1 } } }));
    const memory = new MeterMemory(file);
    memory.learn(ADAPTER, { leadOhms: 0.1 });
    expect(JSON.parse(readFileSync(file, 'utf8'))).toMatchObject({ profiles: { [ADAPTER]: { label: 'bench', leadOhms: 0.1 }, 'serial:/dev/ttyUSB0': { fromTheFuture: 1 } } });
    writeFileSync(file, '{"attached": [');
    expect(new MeterMemory(file).attached()).toEqual([]);
    expect(readFileSync(`${file}.unread`, 'utf8')).toBe('{"attached": [');
  });
});
