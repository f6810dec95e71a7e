import { describe, expect, it } from 'vitest';
import { LAYOUTS } from '../../../drivers/decoders/index.ts';
import { guessDecoders, identify, identifyPort } from '../../../drivers/identify/index.ts';
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
  }, 15_000);
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

  it('says why a port does not open', async () => {
    expect(await identifyPort('/dev/there-is-no-such-port')).toMatchObject({ kind: 'trouble', status: { code: 'PORT_MISSING' } });
  });
});
