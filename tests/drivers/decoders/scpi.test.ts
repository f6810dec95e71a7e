import { afterEach, describe, expect, it } from 'vitest';
import { ScpiAsker, type ScpiOptions } from '../../../drivers/decoders/index.ts';
import { Flag } from '../../../drivers/reading.ts';
import { SCPI_ANSWERS } from '../../reference/protocol-frames.ts';
import { SCPI_SPECIAL } from '../../reference/protocol-numbers.ts';
import { openPty } from '../../support/pty.ts';
import { scpiInstrument, type ScpiScript } from '../../support/scpi-instrument.ts';
import { decodeChunks } from '../decoder-contract.ts';
import { until, type WatchedMeter, watchMeter } from '../watch-meter.ts';

const toClose: (() => Promise<void>)[] = [];
afterEach(async () => {
  for (const close of toClose.splice(0).reverse()) await close();
});

async function atPty(script: Partial<ScpiScript>, query: string): Promise<WatchedMeter & { heard: string[] }> {
  const pty = await openPty();
  toClose.push(() => pty.close());
  const instrument = scpiInstrument({ identity: SCPI_ANSWERS.identity, reading: () => '+1.23456000E+01', ...script }, (text) => void pty.write(text).catch(() => undefined));
  pty.onReceived((bytes) => instrument.receive(bytes));
  const watched = watchMeter(`serial:${pty.path}?decoder=scpi&${query}`);
  toClose.push(() => watched.meter.close());
  return { ...watched, heard: instrument.heard };
}

describe('a SCPI meter on a pseudo-terminal', () => {
  it('is identified, set to the function, checked for errors, then read', async () => {
    const { batches, values, heard, meter } = await atPty({}, 'function=volt:dc&range=60&poll-every=0.02');
    await until(() => values().length >= 5, 'five readings');
    expect(heard.slice(0, 5)).toEqual(['*IDN?', '*CLS', 'CONF:VOLT:DC', 'SYST:ERR?', 'READ?']);
    expect(batches[0]?.readings[0]).toEqual({ quantity: 'voltage', coupling: 'dc', value: 12.3456, resolution: 1e-7, flags: 0 });
    expect(meter.counts().skipped).toBe(0);
  });

  it('is asked what it measures when no function is given', async () => {
    const { batches, values, heard } = await atPty({}, 'poll-every=0.02');
    await until(() => values().length >= 1, 'a reading');
    expect(heard.slice(0, 3)).toEqual(['*IDN?', 'FUNC?', 'READ?']);
    expect(batches[0]?.readings[0]).toMatchObject({ quantity: 'voltage', coupling: 'dc' });
  });

  it('gives over-range and blank for infinity and not-a-number', async () => {
    const answers = [SCPI_SPECIAL.infinity, SCPI_SPECIAL.negativeInfinity, SCPI_SPECIAL.notANumber];
    const { batches } = await atPty({ reading: (n) => answers[n % 3] as string }, 'function=res&poll-every=0.01');
    await until(() => batches.length >= 3, 'three readings');
    expect(batches.slice(0, 3).map((batch) => batch.readings[0]?.flags)).toEqual([Flag.overRange, Flag.overRange | Flag.negative, Flag.blank]);
    expect(batches[0]?.readings[0]?.quantity).toBe('resistance');
  });

  it('never takes an answer that comes too late for that of a later question', async () => {
    // Every fifth measurement takes longer than the patience; values count up, so that a shifted answer would show.
    const { values, heard } = await atPty({ reading: (n) => (n % 5 === 3 ? null : `${n}.0`), measureMs: 5 }, 'function=volt:dc&poll-every=0.01&patience=0.15');
    await until(() => values().length >= 12, 'readings around the missing answers');
    const rising = values().every((value, i) => i === 0 || value > (values()[i - 1] as number));
    expect(rising).toBe(true);
    expect(values().some((value) => value % 5 === 3)).toBe(false);
    expect(heard.filter((header) => header === 'SYST:ERR?').length).toBeGreaterThanOrEqual(3);
  });

  it('empties the error queue after an answer that is no reading, counts the errors and goes on', async () => {
    const { values, meter, heard } = await atPty({ reading: (n) => (n === 1 ? 'nonsense' : '1.0') }, 'function=volt:dc&poll-every=0.01');
    await until(() => values().length >= 3, 'readings after it');
    expect(meter.counts().skipped).toBe(1);
    const at = heard.indexOf('READ?');
    expect(heard.slice(at, at + 4)).toEqual(['READ?', 'READ?', 'SYST:ERR?', 'READ?']);
  });
});

describe('ScpiAsker', () => {
  const OPTIONS: ScpiOptions = { function: 'VOLT:DC', range: null, query: 'READ?', every: 0.1, patience: 1 };
  const say = (asker: ScpiAsker, text: string): ReturnType<typeof decodeChunks> => decodeChunks(asker, [Buffer.from(text)]);
  const asked = (asker: ScpiAsker, now: number): string | null => {
    const bytes = asker.ask(now);
    return bytes === null ? null : Buffer.from(bytes).toString();
  };

  it('keeps who the meter says it is', () => {
    const asker = new ScpiAsker(OPTIONS);
    expect(asked(asker, 0)).toBe('*IDN?\n');
    say(asker, `${SCPI_ANSWERS.identity}\n`);
    expect(asker.identity()).toEqual({ maker: 'MA', model: 'IN', serialNumber: '0', firmware: 'VER' });
  });

  it('reports what the error queue held at the set-up', () => {
    const asker = new ScpiAsker(OPTIONS);
    asked(asker, 0);
    say(asker, 'A,B,C,D\n');
    expect(asked(asker, 0)).toBe('*CLS\nCONF:VOLT:DC\nSYST:ERR?\n');
    expect(say(asker, '-113,"Undefined header"\n').skipped).toEqual([{ bytes: 24, why: 'refused' }]);
    expect(asked(asker, 0)).toBe('SYST:ERR?\n');
    say(asker, '+0,"No error"\n');
    expect(asker.errors()).toEqual(['-113,"Undefined header"']);
    expect(asked(asker, 0)).toBe('READ?\n');
  });

  it('asks again who is there until it is answered, and reads nothing until then', () => {
    const asker = new ScpiAsker(OPTIONS);
    expect(asked(asker, 0)).toBe('*IDN?\n');
    expect(say(asker, '12.34\n').readings).toEqual([]);
    expect(asked(asker, 0.5)).toBeNull();
    expect(asked(asker, 1)).toBe('*IDN?\n');
  });

  it('survives an endless error queue and an endless line', () => {
    const asker = new ScpiAsker(OPTIONS);
    asked(asker, 0);
    say(asker, 'A,B,C,D\n');
    let last: string | null = null;
    for (let i = 0; i < 100 && last !== 'READ?\n'; i++) {
      last = asked(asker, 0);
      say(asker, '-350,"Queue overflow"\n');
    }
    expect(last).toBe('READ?\n');
    expect(say(asker, `${'9'.repeat(100_000)}\n`).skipped).toMatchObject([{ why: 'too-long' }]);
  });
});
