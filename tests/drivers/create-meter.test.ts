import { afterEach, describe, expect, it } from 'vitest';
import { AddressError, createMeter, isSimulatedMeter, level, type Meter, type ReadingBatch } from '../../drivers/index.ts';

const open: Meter[] = [];
afterEach(async () => {
  for (const meter of open.splice(0)) await meter.close();
});

describe('createMeter(address)', () => {
  it('takes what is known of the meter from the address', () => {
    const { traits } = createMeter('serial:/dev/ttyUSB0?baud=19200&data-bits=7&parity=odd&interval=0.5&aperture=0.4&accuracy=0.5%+2&lead-ohms=0.2&label=bench%20meter');
    expect(traits).toEqual({
      address: 'serial:/dev/ttyUSB0?baud=19200&data-bits=7&parity=odd&interval=0.5&aperture=0.4&accuracy=0.5%+2&lead-ohms=0.2&label=bench%20meter',
      label: 'bench meter', interval: 0.5, aperture: 0.4, accuracy: { fraction: 0.005, counts: 2 }, leadOhms: 0.2, simulated: false,
    });
  });

  it('leaves what is not known as null', () => {
    expect(createMeter('serial:COM3').traits).toMatchObject({ label: 'COM3', interval: null, aperture: null, accuracy: null, leadOhms: null });
  });

  it.each([
    ['', 'serial:/dev/ttyUSB0?baud=9600'],
    ['/dev/ttyUSB0', 'no meter address'],
    ['usb:1', 'write serial:'],
    ['serial:', 'names no port'],
    ['serial:/dev/ttyUSB0?bauds=9600', 'no option "bauds"; they have'],
    ['serial:/dev/ttyUSB0?baud=fast', 'a whole number such as 9600'],
    ['serial:/dev/ttyUSB0?parity=maybe', 'none, even, odd'],
    ['serial:/dev/ttyUSB0?baud', 'name=value'],
    ['serial:/dev/ttyUSB0?baud=1200&baud=2400', 'twice'],
    ['serial:/dev/ttyUSB0?poll-every=1', 'without a poll command'],
    ['serial:/dev/ttyUSB0?accuracy=2', '0.5%+2'],
    ['serial:/dev/ttyUSB0?interval=0.1&aperture=0.2', 'cannot be longer'],
    ['simulated:x?counts=3', 'such as 6000'],
    ['simulated:x?range=big', 'fitting, hunting'],
  ])('refuses "%s" and says what to write (%s)', (address, hint) => {
    let thrown: unknown;
    try {
      createMeter(address);
    } catch (error) {
      thrown = error;
    }
    expect(thrown).toBeInstanceOf(AddressError);
    expect((thrown as AddressError).code).toBe('ADDRESS_INVALID');
    expect((thrown as AddressError).message).toContain(hint);
  });
});

describe('a simulated meter on the clock', () => {
  it('says what it is, answers in its interval, and measures what the leads touch now', async () => {
    const meter = createMeter('simulated:bench?interval=0.02&noise=0&seed=5', { signal: { quantity: 'voltage', coupling: 'dc', at: level(12) } });
    if (!isSimulatedMeter(meter)) throw new Error('not simulated');
    expect(meter.traits).toMatchObject({ simulated: true, interval: 0.02, aperture: expect.closeTo(0.018, 9) });
    expect([meter.scenario, meter.seed, meter.startedAt()]).toEqual(['bench', 5, null]);
    open.push(meter);
    const batches: ReadingBatch[] = [];
    let called = false;
    meter.open({ onReadings: (batch) => void batches.push(batch), onStatus: () => void (called = true) });
    expect(called).toBe(false);
    await new Promise((resolve) => setTimeout(resolve, 400));
    meter.setSignal({ quantity: 'resistance', coupling: 'none', at: level(Infinity) });
    await new Promise((resolve) => setTimeout(resolve, 200));
    await meter.close();
    const readings = batches.flatMap((batch) => batch.readings);
    expect(readings[0]).toMatchObject({ quantity: 'voltage', value: 12 });
    expect(readings.at(-1)).toMatchObject({ quantity: 'resistance', flags: 1 });
    // As many readings as intervals fit between the first and the last arrival.
    const elapsed = (batches.at(-1)?.arrival as number) - (meter.startedAt() as number);
    expect(readings.length).toBe(Math.floor(elapsed / 0.02 + 1e-6));
    expect(meter.counts()).toMatchObject({ readings: readings.length, skipped: 0 });
    expect(meter.status().state).toBe('closed');
  });

  it('batch holds lines back and hands them over together, in one batch with one arrival', async () => {
    const meter = createMeter('simulated:x?interval=0.01&batch=0.1');
    open.push(meter);
    const batches: ReadingBatch[] = [];
    meter.open({ onReadings: (batch) => void batches.push(batch), onStatus: () => undefined });
    await new Promise((resolve) => setTimeout(resolve, 500));
    await meter.close();
    expect(Math.max(...batches.map((batch) => batch.readings.length))).toBeGreaterThanOrEqual(8);
  });
});
