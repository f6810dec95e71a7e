/**
 * A simulated serial line, bit by bit: what a receiver makes of bytes that were sent at another rate or with another framing. A
 * pseudo-terminal cannot show this, as it has no rate.
 */
import type { ListeningPort } from '../../drivers/identify/index.ts';

export interface UartFraming {
  readonly baud: number;
  readonly dataBits: 7 | 8;
  readonly parity: 'none' | 'even' | 'odd';
}

/** Times at which the line changes, s, beginning high; `level` after the i-th change is low for even i. */
function edgesOf(bytes: Uint8Array, start: number, framing: UartFraming): number[] {
  const bit = 1 / framing.baud;
  const levels: number[] = [];
  for (const byte of bytes) {
    levels.push(0);
    let ones = 0;
    for (let i = 0; i < framing.dataBits; i++) {
      const one = (byte >> i) & 1;
      ones += one;
      levels.push(one);
    }
    if (framing.parity !== 'none') levels.push(framing.parity === 'even' ? ones & 1 : (ones & 1) ^ 1);
    levels.push(1);
  }
  const edges: number[] = [];
  let level = 1;
  levels.forEach((next, i) => {
    if (next !== level) edges.push(start + i * bit);
    level = next;
  });
  return edges;
}

/** @returns bytes as a receiver with 8 data bits and no parity at `baud` sees them, with the time at which each is complete */
export function receiveAt(baud: number, bytes: Uint8Array, start: number, framing: UartFraming): { byte: number; time: number }[] {
  const edges = edgesOf(bytes, start, framing);
  const levelAt = (time: number): number => {
    let changes = 0;
    while (changes < edges.length && (edges[changes] as number) <= time) changes++;
    return (changes + 1) & 1;
  };
  const bit = 1 / baud;
  const received: { byte: number; time: number }[] = [];
  let from = -Infinity;
  for (;;) {
    const falling = edges.find((edge, i) => i % 2 === 0 && edge > from);
    if (falling === undefined) return received;
    if (levelAt(falling + bit / 2) === 1) {
      // A spike shorter than half a bit is no start.
      from = falling;
      continue;
    }
    let byte = 0;
    for (let i = 0; i < 8; i++) byte |= levelAt(falling + (1.5 + i) * bit) << i;
    const time = falling + 9.5 * bit;
    received.push({ byte, time });
    from = time;
  }
}

/** A port with a meter at its end that talks by itself: every frame is sent when it is due, and received at the rate that the port is set to. */
export function uartPort(frames: readonly Uint8Array[], interval: number, framing: UartFraming, phase: number): ListeningPort & { written: number } {
  let baud = 9600;
  let receive: (bytes: Uint8Array, arrival: number) => void = () => undefined;
  let next = 0;
  const timers = new Set<NodeJS.Timeout>();
  const sendNext = (): void => {
    const bytes = receiveAt(baud, frames[next++ % frames.length] as Uint8Array, 0, framing).map(({ byte }) => byte);
    if (bytes.length > 0) receive(Uint8Array.from(bytes), performance.now() / 1000);
  };
  const first = setTimeout(() => {
    sendNext();
    timers.add(setInterval(sendNext, interval * 1000));
  }, phase * 1000);
  timers.add(first);
  const port = {
    written: 0,
    setBaud: (rate: number) => { baud = rate; return Promise.resolve(); },
    onBytes: (handler: typeof receive) => { receive = handler; },
    write: (bytes: Uint8Array) => { port.written += bytes.length; },
    close: () => { timers.forEach((timer) => clearInterval(timer)); return Promise.resolve(); },
  };
  return port;
}
