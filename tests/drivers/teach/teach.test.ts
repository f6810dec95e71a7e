import { describe, expect, it } from 'vitest';
import { FrameDecoder, parseFrameLayout, TextLineDecoder } from '../../../drivers/decoders/index.ts';
import { findFrames, type FramesFound, teachFrames, type Taught, type TeachExample, teachText } from '../../../drivers/teach/index.ts';
import { decodeChunks } from '../decoder-contract.ts';
import { teachByAsking } from '../../support/teach-by-asking.ts';
import { displayStates, FRAME_KINDS, unknownMeter } from '../../support/unknown-meters.ts';

describe('teachFrames(found, examples): a frame that nobody knows', () => {
  // The bench does the same with fresh seeds, and more of them.
  it.each(FRAME_KINDS)('%s: every value of 200 further frames is right, unit and over-range included', (kind) => {
    const seed = 20_261_125 + FRAME_KINDS.indexOf(kind);
    const meter = unknownMeter(kind, seed);
    const states = displayStates(seed + 7, 40);
    const shown = new Map(states.map((state) => {
      const frame = meter.frame(state);
      return [Buffer.from(frame).toString('hex'), { frame, text: meter.shown(state) }];
    }));
    const captured = [...shown.values()];
    const found = findFrames(captured.map(({ frame }, i) => ({ arrival: 0.3 * i, bytes: frame })));
    expect(found?.length, `seed ${seed}`).toBe(meter.length);
    const { taught, examples } = teachByAsking(found as FramesFound, (frame) => shown.get(Buffer.from(frame).toString('hex'))?.text as string);
    if (taught.kind !== 'taught') throw new Error(`seed ${seed}: ${JSON.stringify(taught)} after ${examples} examples`);
    expect(examples, `seed ${seed}`).toBeLessThanOrEqual(9);
    const decoder = new FrameDecoder(taught.layout);
    for (const state of displayStates(seed + 999, 200)) {
      const [reading] = decodeChunks(decoder, [meter.frame(state)]).readings;
      const value = meter.value(state);
      // A mark that never was captured makes a frame unreadable; a wrong value would be the fault.
      if (reading !== undefined) expect(Number(reading.value.toPrecision(9)), `seed ${seed}, ${meter.shown(state)}`).toBe(Number(value.toPrecision(9)));
    }
    // What was taught can be saved and shared.
    expect(parseFrameLayout(JSON.parse(JSON.stringify(taught.layout)))).toEqual({ kind: 'layout', layout: taught.layout });
  });

  it('asks for no more when every frame was sent many times, as a display that stands still does', () => {
    const meter = unknownMeter('integer-low-first', 20_261_127);
    const states = displayStates(31, 24);
    // Sent again as it was, byte for byte: a byte that counts or sums is then as unlike a field as ever.
    const sent = states.flatMap((state) => { const frame = meter.frame(state); return Array.from({ length: 12 }, () => ({ frame, text: meter.shown(state) })); });
    const shown = new Map(sent.map(({ frame, text }) => [Buffer.from(frame).toString('hex'), text]));
    const found = findFrames(sent.map(({ frame }, i) => ({ arrival: 0.06 * i, bytes: frame }))) as FramesFound;
    const unlike = { ...found, frames: [...found.frames].filter((_, i) => i % 12 === 0).concat([...found.frames].filter((_, i) => i % 12 !== 0)) };
    const { taught, examples } = teachByAsking(unlike, (frame) => shown.get(Buffer.from(frame).toString('hex')) as string);
    expect(taught.kind, JSON.stringify(taught)).toBe('taught');
    expect(examples).toBeLessThanOrEqual(16);
  });

  it('says what the examples could not tell, and how to show it', () => {
    const meter = unknownMeter('integer-high-first', 3);
    const states = [1234, 2345, 3456, 4567, 5123, 999].map((count) => ({ count, decimals: 2, unit: 'V DC' }));
    const frames = states.map((state) => meter.frame(state));
    const found = findFrames(frames.map((bytes, i) => ({ arrival: 0.3 * i, bytes }))) as FramesFound;
    const taught = teachFrames(found, frames.map((frame, i) => ({ frame, shown: meter.shown(states[i] as (typeof states)[0]) })), 'volts', 'a test');
    if (taught.kind !== 'taught') throw new Error(JSON.stringify(taught));
    expect(taught.undetermined.join(' ')).toMatch(/minus.*over-range.*decimal point.*other units/s);
    // Unseen marks are not read over: a minus that was never shown gives no reading at all.
    expect(decodeChunks(new FrameDecoder(taught.layout), [meter.frame({ count: -1234, decimals: 2, unit: 'V DC' })]).readings).toEqual([]);
    expect(decodeChunks(new FrameDecoder(taught.layout), [meter.frame({ count: null, decimals: 2, unit: 'V DC' })]).readings).toEqual([]);
  });

  it('fails with the reason for text that is no value, too few numbers, and values that do not fit', () => {
    const meter = unknownMeter('bcd-packed', 5);
    const states = displayStates(1, 10).filter(({ count }) => count !== null);
    const frames = states.map((state) => meter.frame(state));
    const found = findFrames(frames.map((bytes, i) => ({ arrival: 0.3 * i, bytes }))) as FramesFound;
    const teach = (examples: TeachExample[]): Taught => teachFrames(found, examples, 'x', 'a test');
    expect(teach([{ frame: frames[0] as Uint8Array, shown: 'twelve' }])).toMatchObject({ kind: 'failed', why: expect.stringContaining('"twelve"') });
    expect(teach([{ frame: frames[0] as Uint8Array, shown: '1.0 V' }])).toMatchObject({ kind: 'failed', why: expect.stringContaining('different numbers') });
    expect(teach(frames.slice(0, 6).map((frame, i) => ({ frame, shown: `${7 + 13 * i}.31 V` })))).toMatchObject({ kind: 'failed', why: expect.stringContaining('no digits') });
  });
});

describe('findFrames(chunks)', () => {
  it('finds length and beginning by what repeats, when bytes come without pauses and begin in the middle', () => {
    const meter = unknownMeter('integer-high-first', 21);
    const stream = Buffer.concat(displayStates(4, 60).map((state) => meter.frame(state))).subarray(3);
    const chunks = Array.from({ length: Math.ceil(stream.length / 7) }, (_, i) => ({ arrival: 0.001 * i, bytes: stream.subarray(7 * i, 7 * i + 7) }));
    expect(findFrames(chunks)?.length).toBe(meter.length);
  });
  it('takes apart what a busy link delivered together', () => {
    const meter = unknownMeter('bcd-packed', 20_261_126);
    const sent = displayStates(77, 40).map((state) => meter.frame(state));
    // Every other time two or three at once.
    const chunks: { arrival: number; bytes: Uint8Array }[] = [];
    for (let at = 0; at < sent.length;) {
      const together = [1, 2, 1, 3, 1][chunks.length % 5]!;
      chunks.push({ arrival: 0.04 * at, bytes: Buffer.concat(sent.slice(at, at + together)) });
      at += together;
    }
    const found = findFrames(chunks);
    expect(found?.length).toBe(meter.length);
    for (const { bytes } of found!.frames) expect(sent.some((own) => Buffer.compare(own, bytes) === 0)).toBe(true);
  });
  it('finds nothing in noise', () => {
    const noise = Buffer.from(Array.from({ length: 600 }, () => Math.floor(Math.random() * 256)));
    expect(findFrames([{ arrival: 0, bytes: noise }])).toBeNull();
  });
});

describe('teachText(lines, examples)', () => {
  const lines = ['17,4.998,12.34,ok', '18,4.997,12.31,ok', '19,4.998,11.87,ok'];
  it('finds the field that the display shows, and the unit typed behind it', () => {
    const taught = teachText(lines, [{ line: lines[0] as string, shown: '12.34 V DC' }]);
    if (taught.kind !== 'taught') throw new Error(JSON.stringify(taught));
    expect(taught.options).toMatchObject({ field: 3, unit: 'V DC' });
    expect(new TextLineDecoder(taught.options).decodeLine(lines[2] as string)).toMatchObject({ reading: { value: 11.87, quantity: 'voltage' } });
  });
  it('asks for a line that tells when two fields show the same', () => {
    const same = ['5.00;5.00', '5.01;5.00', '5.00;5.02'];
    const taught = teachText(same, [{ line: same[0] as string, shown: '5.00' }]);
    if (taught.kind !== 'ambiguous') throw new Error(JSON.stringify(taught));
    expect(taught.askLine).toBe(same[1]);
    expect(teachText(same, [{ line: same[0] as string, shown: '5.00' }, { line: same[1] as string, shown: '5.01' }])).toMatchObject({ kind: 'taught' });
  });
  it('fails when no field is what was typed', () => {
    expect(teachText(lines, [{ line: lines[0] as string, shown: '99.9' }])).toMatchObject({ kind: 'failed' });
  });
});
