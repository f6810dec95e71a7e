/**
 * Where do the frames of an unknown binary stream begin, and how long are they? From captured chunks: by the pauses
 * between bursts when the meter makes any, else by the period at which bits repeat. Pure.
 */

/** Bytes with the time at which they came, s. */
export interface CapturedChunk {
  readonly arrival: number;
  readonly bytes: Uint8Array;
}

export interface FramesFound {
  readonly length: number;
  /** Whole frames, in order. */
  readonly frames: readonly { readonly arrival: number; readonly bytes: Uint8Array }[];
  /** Bits that are the same in all frames: mask and value for each byte. */
  readonly fixed: readonly { readonly mask: number; readonly value: number }[];
  /** Bytes that count the frames and say nothing. */
  readonly counters: readonly number[];
}

/** Frames longer or shorter than this are not looked for, bytes. */
const SHORTEST = 4;
const LONGEST = 64;
/** A byte with more values than this is no field of marks. */
const MOST_MARKS = 8;
/** A pause that parts two bursts is this many times the time within one, and at least this long, s. */
const SHORTEST_PAUSE = 0.008;

/**
 * Finds frames of one length.
 * @param fewest  frames needed before a length is believed
 * @returns null when nothing repeats
 */
export function findFrames(chunks: readonly CapturedChunk[], fewest = 3): FramesFound | null {
  return byPauses(chunks, fewest) ?? byPeriod(chunks, fewest);
}

/** What was found, with more frames of the same length: what is fixed is fixed in those too. */
export function withFrames(found: FramesFound, more: readonly Uint8Array[]): FramesFound {
  const added = more.filter(({ length }) => length === found.length).map((bytes) => ({ arrival: (found.frames[0] as { arrival: number }).arrival, bytes }));
  return added.length === 0 ? found : described([...added, ...found.frames]);
}

/** Bursts of one and the same length are frames; several times that length, frames that a busy link delivered together. The first and the last may be cut. */
function byPauses(chunks: readonly CapturedChunk[], fewest: number): FramesFound | null {
  const bursts: { arrival: number; end: number; bytes: number[] }[] = [];
  for (const { arrival, bytes } of chunks) {
    const last = bursts.at(-1);
    if (last !== undefined && arrival - last.end < SHORTEST_PAUSE) {
      last.bytes.push(...bytes);
      last.end = arrival;
    } else {
      bursts.push({ arrival, end: arrival, bytes: [...bytes] });
    }
  }
  const inner = bursts.slice(1, -1);
  const whole = inner.length >= fewest ? inner : bursts;
  const lengths = whole.map(({ bytes }) => bytes.length);
  const isLength = (length: number): boolean => lengths.filter((own) => own === length).length >= fewest && lengths.filter((own) => own % length === 0).length >= 0.8 * lengths.length;
  const length = [...new Set(lengths)].sort((a, b) => a - b).find((own) => own >= SHORTEST && own <= LONGEST && isLength(own));
  if (length === undefined) return null;
  return described(whole.filter(({ bytes }) => bytes.length % length === 0).flatMap(({ arrival, bytes }) => (
    Array.from({ length: bytes.length / length }, (_, order) => ({ arrival, bytes: Uint8Array.from(bytes.slice(order * length, (order + 1) * length)) }))
  )));
}

/** The shortest period at which a good part of the bits is always the same; begun where the fixed bits of a frame stand out most. */
function byPeriod(chunks: readonly CapturedChunk[], fewest: number): FramesFound | null {
  const stream = Uint8Array.from(chunks.flatMap(({ bytes }) => [...bytes]));
  const arrivals = chunks.flatMap(({ arrival, bytes }) => Array.from(bytes, () => arrival));
  let best: { length: number; share: number } | null = null;
  for (let length = SHORTEST; length <= Math.min(LONGEST, Math.floor(stream.length / (fewest + 1))); length++) {
    let fixed = 0;
    for (let column = 0; column < length; column++) fixed += countBits(fixedMask(stream, column, length));
    const share = fixed / (8 * length);
    // A multiple of the true length has the same share; only a clearly better one is believed.
    if (share > 0.25 && (best === null || share > best.share + 0.08)) best = { length, share };
  }
  if (best === null) return null;
  const start = beginning(stream, best.length);
  const frames: { arrival: number; bytes: Uint8Array }[] = [];
  for (let at = start; at + best.length <= stream.length; at += best.length) {
    frames.push({ arrival: arrivals[at + best.length - 1] as number, bytes: stream.slice(at, at + best.length) });
  }
  return frames.length >= fewest ? described(frames) : null;
}

/** A frame most likely begins with bytes that never change; of those, with the longest run of them. */
function beginning(stream: Uint8Array, length: number): number {
  const isFixed = Array.from({ length }, (_, column) => fixedMask(stream, column, length) === 0xff);
  let best = 0;
  let bestRun = -1;
  for (let start = 0; start < length; start++) {
    let run = 0;
    while (run < length && isFixed[(start + run) % length] === true) run++;
    const isEdge = isFixed[(start + length - 1) % length] !== true;
    if (run > bestRun && (isEdge || run === length)) {
      bestRun = run;
      best = start;
    }
  }
  return best;
}

function fixedMask(stream: Uint8Array, column: number, length: number): number {
  let differing = 0;
  for (let at = column + length; at < stream.length; at += length) differing |= (stream[at] as number) ^ (stream[column] as number);
  return ~differing & 0xff;
}

function described(frames: readonly { arrival: number; bytes: Uint8Array }[]): FramesFound {
  const first = (frames[0] as { bytes: Uint8Array }).bytes;
  const fixed = Array.from(first, (value, at) => {
    let differing = 0;
    for (const { bytes } of frames) differing |= (bytes[at] as number) ^ value;
    return { mask: ~differing & 0xff, value: value & ~differing };
  });
  const counters = fixed.flatMap((_, at) => (isCounter(frames.map(({ bytes }) => bytes[at] as number)) ? [at] : []));
  for (const at of counters) fixed[at] = { mask: 0, value: 0 };
  return { length: first.length, frames, fixed, counters };
}

/** Goes on by the same step from frame to frame, but for a few that were lost. */
function isCounter(values: readonly number[]): boolean {
  const steps = new Map<number, number>();
  for (let i = 1; i < values.length; i++) {
    const step = ((values[i] as number) - (values[i - 1] as number)) & 0xff;
    steps.set(step, (steps.get(step) ?? 0) + 1);
  }
  const [step, count] = [...steps].sort((a, b) => b[1] - a[1])[0] ?? [0, 0];
  return step !== 0 && values.length >= 6 && count >= 0.8 * (values.length - 1);
}

/** For each byte of a frame, whether it takes a few values only, as unit, range, sign and marks do; digits, counters and check sums take many. */
export function markBytes({ length, frames, fixed, counters }: FramesFound): boolean[] {
  return Array.from({ length }, (_, at) => fixed[at]?.mask !== 0xff && !counters.includes(at) && new Set(frames.map(({ bytes }) => bytes[at])).size <= MOST_MARKS);
}

/** How much a frame shows that none of these does: the bytes of marks with a value that is new. @param isMark  see `markBytes` */
export function newsOf(isMark: readonly boolean[], examples: readonly Uint8Array[], frame: Uint8Array): number {
  return isMark.filter((own, at) => own && !examples.some((example) => example[at] === frame[at])).length;
}

function countBits(mask: number): number {
  let count = 0;
  for (let rest = mask; rest !== 0; rest &= rest - 1) count++;
  return count;
}
