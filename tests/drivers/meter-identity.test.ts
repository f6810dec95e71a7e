import { describe, expect, it } from 'vitest';
import { meterIdentity } from '../../drivers/index.ts';

describe('meterIdentity(address)', () => {
  it.each([
    ['another baud rate', 'serial:*?vendor=0403&product=6001&serial-number=A1&baud=9600', 'serial:*?vendor=0403&product=6001&serial-number=A1&baud=2400'],
    ['another decoder and order', 'serial:*?serial-number=A1&product=6001&vendor=0403&decoder=scpi', 'serial:*?vendor=0403&product=6001&serial-number=A1'],
    ['another name on the screen', 'serial:/dev/ttyUSB0?label=bench', 'serial:/dev/ttyUSB0?accuracy=1%+5'],
    ['another silence', 'tcp:192.168.4.1:23?silence=9', 'tcp:192.168.4.1:23'],
  ])('is the same with %s', (_, left, right) => {
    expect(meterIdentity(left)).toBe(meterIdentity(right));
  });
  it.each([
    ['another serial number', 'serial:*?vendor=0403&product=6001&serial-number=A1', 'serial:*?vendor=0403&product=6001&serial-number=A2'],
    ['the same number in an adapter of another kind', 'serial:*?vendor=0403&product=6001&serial-number=0001', 'serial:*?vendor=10c4&product=ea60&serial-number=0001'],
    ['another slave on one bus', 'serial:/dev/ttyUSB0?decoder=modbus&slave=1', 'serial:/dev/ttyUSB0?decoder=modbus&slave=2'],
    ['another port', 'serial:/dev/ttyUSB0', 'serial:/dev/ttyUSB1'],
    ['another simulation', 'simulated:alder7?seed=1', 'simulated:alder7?seed=2'],
  ])('differs with %s', (_, left, right) => {
    expect(meterIdentity(left)).not.toBe(meterIdentity(right));
  });
});
