import { describe, expect, it } from 'vitest';
import { LAYOUTS } from '../../../drivers/decoders/index.ts';
import { guessDecoders, identify, type IdentifyProgress, identifyPort } from '../../../drivers/identify/index.ts';
import { crc16Modbus } from '../../../drivers/decoders/checksum.ts';
import { createMeter, identifyMeter, isByteMeter } from '../../../drivers/index.ts';
import { openPty } from '../../support/pty.ts';
import { scpiInstrument } from '../../support/scpi-instrument.ts';
import { talkingMeters } from '../../support/talking-meters.ts';
import { receiveAt, uartPort } from '../../support/uart.ts';
import { displayStates, unknownMeter } from '../../support/unknown-meters.ts';

const clock = (): number => performance.now() / 1000;

describe('the simulated line of these tests', () => {
  it('gives back what was sent at the right rate, and the parity as eighth bit of seven', () => {
    const bytes = Buffer.from('12.34 V\r\n');
    expect(receiveAt(9600, bytes, 0, { baud: 9600, dataBits: 8, parity: 'none' }).map(({ byte }) => byte)).toEqual([...bytes]);
    // 'A' has two ones: even parity 0, odd parity 1.
    expect(receiveAt(2400, Buffer.from('A'), 0, { baud: 2400, dataBits: 7, parity: 'odd' })[0]?.byte).toBe(0x41 | 0x80);
    expect(receiveAt(2400, Buffer.from('A'), 0, { baud: 2400, dataBits: 7, parity: 'even' })[0]?.byte).toBe(0x41);
  });
});

describe('identify(port): fourteen meters that talk by themselves', () => {
  it('recognises them within 5 s by listening only, with rate, framing and values', async () => {
    const seed = 20_261_125;
    const meters = talkingMeters(seed);
    const results = await Promise.all(meters.map(async (meter, i) => {
      const port = uartPort(meter.frames, meter.interval, meter.framing, 0.03 * i);
      try {
        return { identification: await identify(port, { layouts: LAYOUTS }, clock), written: port.written };
      } finally {
        await port.close();
      }
    }));
    const wrong: string[] = [];
    results.forEach(({ identification, written }, i) => {
      const meter = meters[i] as (typeof meters)[0];
      expect(written).toBe(0);
      const best = identification.kind === 'recognised' ? identification.guesses[0] : undefined;
      const isRight = best !== undefined && best.baud === meter.framing.baud
        && (meter.framing.parity === 'none' || best.options.includes(`parity=${meter.framing.parity}`))
        && best.readings.length > 0 && best.readings.every(({ value }) => meter.values.includes(value));
      if (!isRight) wrong.push(`${meter.name} at ${meter.framing.baud} ${meter.framing.dataBits}${meter.framing.parity}: ${JSON.stringify(best ?? identification.kind)}`);
    });
    expect(wrong).toEqual([]);
  });
});

describe('identify(port): a cable that takes its power from DTR and RTS', () => {
  it('is heard once DTR is on and RTS off, and the settings say so', async () => {
    const { frames, interval } = talkingMeters(5)[0]!;
    const framing = { baud: 2400, dataBits: 8, parity: 'none' } as const;
    const port = uartPort(frames, interval, framing, 0);
    let isPowered = false;
    const cable = {
      ...port,
      onBytes: (receive: (bytes: Uint8Array, arrival: number) => void) => port.onBytes((bytes, arrival) => { if (isPowered) receive(bytes, arrival); }),
      setLines: ({ dtr, rts }: { dtr: boolean; rts: boolean }) => { isPowered = dtr && !rts; return Promise.resolve(true); },
    };
    try {
      const found = await identify(cable, { layouts: LAYOUTS }, clock);
      if (found.kind !== 'recognised') throw new Error(found.kind);
      expect(found.guesses[0]).toMatchObject({ baud: 2400, options: expect.stringMatching(/^dtr=on&rts=off/) as string });
    } finally {
      await port.close();
    }
  });
});

describe('identifyMeter(meter)', () => {
  it('looks at the bytes of an open link at the settings that it has, and the meter reads on', async () => {
    const pty = await openPty();
    const meter = createMeter(`serial:${pty.path}?baud=9600`);
    if (!isByteMeter(meter)) throw new Error('no bytes');
    let readings = 0;
    meter.open({ onReadings: () => { readings++; }, onStatus: () => undefined });
    const talk = setInterval(() => void pty.write('0.512 kOhm\r\n').catch(() => undefined), 50);
    try {
      const found = await identifyMeter(meter);
      if (found.kind !== 'recognised') throw new Error(found.kind);
      expect(found.guesses[0]).toMatchObject({ baud: null, options: '' });
      expect(found.guesses[0]?.readings[0]).toMatchObject({ quantity: 'resistance', value: 512 });
      expect(readings).toBeGreaterThan(2);
    } finally {
      clearInterval(talk);
      await meter.close();
      await pty.close();
    }
  });
});

describe('guessDecoders(chunks)', () => {
  const chunks = (text: string): { arrival: number; bytes: Uint8Array }[] => [...text.matchAll(/[^]{1,9}/g)].map(([part], i) => ({ arrival: 0.1 * i, bytes: Buffer.from(part, 'latin1') }));
  it('prefers text with units, and doubts bare numbers', () => {
    const [withUnit] = guessDecoders(chunks('4 V\n12.34 V\n12.35 V\n12.33 V\n12.34 V\n'), LAYOUTS);
    const [bare] = guessDecoders(chunks('4\n12.34\n12.35\n12.33\n12.34\n'), LAYOUTS);
    expect(withUnit?.confidence).toBeGreaterThan(0.8);
    expect(bare?.doubts.join(' ')).toContain('unit=V');
    expect(bare?.confidence).toBeLessThanOrEqual(withUnit?.confidence as number);
  });
  it('makes next to nothing of noise', () => {
    for (let i = 0; i < 200; i++) {
      const noise = Uint8Array.from({ length: 400 }, () => Math.floor(Math.random() * 256));
      const [best] = guessDecoders([{ arrival: 0, bytes: noise }], LAYOUTS);
      expect(best?.confidence ?? 0).toBeLessThan(0.2);
    }
  });
});

describe('identifyPort(path) on a real pseudo-terminal', () => {
  it('recognises a meter that talks, and says how often it does', async () => {
    const pty = await openPty();
    const talk = setInterval(() => void pty.write('12.34 V DC\r\n').catch(() => undefined), 50);
    try {
      const found = await identifyPort(pty.path);
      if (found.kind !== 'recognised') throw new Error(found.kind);
      expect(found.guesses[0]?.readings[0]).toMatchObject({ quantity: 'voltage', value: 12.34 });
    } finally {
      clearInterval(talk);
      await pty.close();
    }
  });

  it('finds the frames of a meter that it does not know, to be taught', async () => {
    const pty = await openPty();
    const meter = unknownMeter('integer-high-first', 8);
    const states = displayStates(3, 60);
    let n = 0;
    const talk = setInterval(() => void pty.write(meter.frame(states[n++ % states.length] as (typeof states)[0])).catch(() => undefined), 60);
    try {
      const found = await identifyPort(pty.path);
      expect(found).toMatchObject({ kind: 'unrecognised', frames: { length: meter.length } });
    } finally {
      clearInterval(talk);
      await pty.close();
    }
  });

  it('sends nothing to a silent meter unless it may; then asks who is there', async () => {
    const pty = await openPty();
    let heard = 0;
    const instrument = scpiInstrument({ identity: 'MA,IN,0,VER', reading: () => '1' }, (text) => void pty.write(text).catch(() => undefined));
    pty.onReceived((bytes) => { heard += bytes.length; instrument.receive(bytes); });
    try {
      expect(await identifyPort(pty.path)).toEqual({ kind: 'silent', asked: false });
      expect(heard).toBe(0);
      expect(await identifyPort(pty.path, { mayAsk: true })).toMatchObject({ kind: 'recognised', guesses: [{ options: 'decoder=scpi', doubts: ['It says that it is MA,IN,0,VER.'] }] });
    } finally {
      await pty.close();
    }
  });

  it('finds a Modbus station once it may ask, and reads its first register', async () => {
    const pty = await openPty();
    // Function 4 only: question and answer as in the Modbus application protocol, 6.4 (read input registers); CRC by the project, checked against crc-catalog.
    pty.onReceived((bytes) => {
      if (bytes[0] !== 1 || (bytes[1] !== 3 && bytes[1] !== 4)) return;
      const body = bytes[1] === 3 ? [1, 0x83, 1] : [1, 4, 2, 0x04, 0xd2];
      const crc = crc16Modbus(Uint8Array.from(body));
      void pty.write(Uint8Array.from([...body, crc & 255, crc >> 8])).catch(() => undefined);
    });
    try {
      const found = await identifyPort(pty.path, { mayAsk: true });
      expect(found).toMatchObject({ kind: 'recognised', guesses: [{ options: 'decoder=modbus&slave=1&registers=input&register=0', baud: 9600, readings: [{ value: 1234 }] }] });
    } finally {
      await pty.close();
    }
  });

  it('tells how far it is, and stops when told to', async () => {
    const pty = await openPty();
    const control = new AbortController();
    const told: IdentifyProgress[] = [];
    const onProgress = (progress: IdentifyProgress): void => {
      told.push(progress);
      setTimeout(() => control.abort(), 100);
    };
    try {
      // Asked nothing, though it might have: it was stopped before that.
      expect(await identifyPort(pty.path, { mayAsk: true, signal: control.signal, onProgress })).toEqual({ kind: 'silent', asked: false });
    } finally {
      await pty.close();
    }
    expect(told[0]).toMatchObject({ phase: 'listening', baud: 9600, bytes: 0 });
  });

  it('says why a port does not open', async () => {
    expect(await identifyPort('/dev/there-is-no-such-port')).toMatchObject({ kind: 'trouble', status: { code: 'PORT_MISSING' } });
  });
});
