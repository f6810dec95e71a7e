/** Streams of meters that talk by themselves, of different make-up: text in many styles and frames of known layouts. All invented. */
import { type FrameLayout, LAYOUTS } from '../../drivers/decoders/index.ts';
import { SEGMENTS, segmentsOfCharacter } from '../../drivers/decoders/segments.ts';
import { randomFrom } from '../../drivers/simulated/random.ts';
import type { UartFraming } from './uart.ts';

export interface TalkingMeter {
  readonly name: string;
  readonly framing: UartFraming;
  readonly interval: number;
  readonly frames: readonly Uint8Array[];
  /** Values that the frames show, SI. */
  readonly values: readonly number[];
}

type Style = (value: number) => { text: string; value: number };
const TEXT_STYLES: Record<string, Style> = {
  'unit behind': (v) => ({ text: `${v.toFixed(2)} V DC\r\n`, value: Number(v.toFixed(2)) }),
  'unit joined': (v) => ({ text: `${v.toFixed(3)}VDC\n`, value: Number(v.toFixed(3)) }),
  'millivolts, sign apart': (v) => ({ text: `- ${(v * 10).toFixed(1)} mV\r\n`, value: -Number(`${(v * 10).toFixed(1)}e-3`) }),
  'NR3 with fields': (v) => ({ text: `${v >= 0 ? '+' : ''}${v.toExponential(5).replace('e', 'E')},VDC,AUTO\r\n`, value: Number(v.toExponential(5)) }),
  'decimal comma': (v) => ({ text: `DC ${v.toFixed(2).replace('.', ',')} V\r\n`, value: Number(v.toFixed(2)) }),
  'kilohms in one-byte code': (v) => ({ text: `${v.toFixed(3)} k\u00ea\r\n`, value: Number(`${v.toFixed(3)}e3`) }),
  'ends with CR': (v) => ({ text: `${v.toFixed(2)} A\r`, value: Number(v.toFixed(2)) }),
  'two values': (v) => ({ text: `${v.toFixed(2)} V;50.01 Hz\r\n`, value: Number(v.toFixed(2)) }),
  'label before': (v) => ({ text: `CH1: ${v.toFixed(2)} V\r\n`, value: Number(v.toFixed(2)) }),
  'bare number': (v) => ({ text: `${v.toFixed(3)}\r\n`, value: Number(v.toFixed(3)) }),
};

function mirrored(layout: FrameLayout, count: number): Uint8Array {
  const frame = new Uint8Array(layout.length);
  for (const { at, equals } of layout.fixed) frame[at] = (frame[at] as number) | equals;
  if (layout.digits.as !== 'segments') throw new Error('no segments');
  const text = String(count).padStart(4, '0');
  layout.digits.places.forEach((place, i) => SEGMENTS.forEach((name, n) => {
    if ((segmentsOfCharacter(text.charAt(i)) >> n) & 1) frame[place[name].at] = (frame[place[name].at] as number) | (1 << place[name].bit);
  }));
  frame[0] = (frame[0] as number) | 4;
  frame[5] = (frame[5] as number) | 8;
  frame[12] = (frame[12] as number) | 4;
  return frame;
}

/** @returns fourteen meters, each with rate, framing, interval and values by the seed */
export function talkingMeters(seed: number): TalkingMeter[] {
  const random = randomFrom(seed);
  const pick = <T>(choices: readonly T[]): T => choices[Math.floor(random() * choices.length)] as T;
  const framingOf = (): UartFraming => {
    const dataBits = random() < 0.25 ? 7 : 8;
    return { baud: pick([1200, 2400, 4800, 9600, 9600, 19200, 38400, 57600, 115200]), dataBits, parity: dataBits === 7 ? pick(['even', 'odd']) : 'none' };
  };
  const meters: TalkingMeter[] = [];
  for (const [name, style] of Object.entries(TEXT_STYLES)) {
    const level = 1 + 20 * random();
    const shown = Array.from({ length: 40 }, () => style(level * (1 + 0.01 * random())));
    // A one-byte code needs eight bits.
    const framing = name.includes('one-byte') ? { ...framingOf(), dataBits: 8, parity: 'none' } as const : framingOf();
    meters.push({ name, framing, interval: pick([0.1, 0.2, 0.4, 0.5]), frames: shown.map(({ text }) => Buffer.from(text, 'latin1')), values: shown.map(({ value }) => value) });
  }
  const segments = LAYOUTS.find((layout) => layout.name === 'mirrored-display-14') as FrameLayout;
  for (const [name, baud] of [['segment frames', 2400], ['segment frames, fast', 19200]] as const) {
    const counts = Array.from({ length: 40 }, () => Math.floor(1000 + 5000 * random()));
    meters.push({ name, framing: { baud, dataBits: 8, parity: 'none' }, interval: pick([0.2, 0.5]), frames: counts.map((count) => mirrored(segments, count)), values: counts.map((count) => Number(`${count}e-2`)) });
  }
  for (const [name, baud] of [['character frames', 9600], ['character frames, slow', 1200]] as const) {
    const counts = Array.from({ length: 40 }, () => Math.floor(60000 * random()));
    meters.push({
      name, framing: { baud, dataBits: 8, parity: 'none' }, interval: pick([0.25, 0.5]),
      frames: counts.map((count) => Buffer.from(`\x02+${String(count).padStart(5, '0')}2A@\r`, 'latin1')), values: counts.map((count) => Number(`${count}e-2`)),
    });
  }
  return meters;
}
