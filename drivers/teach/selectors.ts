/** Which bits of a frame say something that changed between the examples: the sign, the place of the point, the unit, over-range. Pure. */
import type { FrameBits } from '../decoders/frame-layout.ts';

export interface Selector {
  /** For each meaning but the one that needs no sign: the bits by which it is known. */
  readonly rules: readonly { readonly bits: FrameBits[]; readonly meaning: string }[];
  /** What holds when no rule does; null when each meaning has a rule. */
  readonly otherwise: string | null;
}

const MASKS = [0x01, 0x02, 0x04, 0x08, 0x10, 0x20, 0x40, 0x80, 0x03, 0x0c, 0x30, 0xc0, 0x07, 0x70, 0x38, 0x0f, 0xf0, 0x3f, 0xff];
const MOST_SELECTORS = 10;
/** A field that needs many values for one meaning fits any examples: it is no explanation where a plainer one is at hand. */
const COST_MARGIN = 12;

/**
 * All ways to tell the meanings apart by a field of one byte, or by one bit for each meaning.
 * @param meanings  one for each frame
 * @param free  bits that may be used, for each byte
 * @returns the plainest first: few bits, one value for each meaning; empty when no bits tell
 */
export function findSelectors(frames: readonly Uint8Array[], meanings: readonly string[], free: Uint8Array): Selector[] {
  const distinct = [...new Set(meanings)];
  if (distinct.length < 2) return [{ rules: [], otherwise: distinct[0] ?? null }];
  const found = [...byField(frames, meanings, free), ...byBits(frames, meanings, distinct, free)];
  found.sort((a, b) => a.cost - b.cost);
  const plainest = found[0]?.cost ?? 0;
  // Of those on one byte the two plainest stand for the others, so that every byte gets its say.
  const onByte = new Map<string, number>();
  const kept = found.filter(({ selector, cost }) => {
    const bytes = [...new Set(selector.rules.flatMap(({ bits }) => bits.map(({ at }) => at)))].join();
    onByte.set(bytes, (onByte.get(bytes) ?? 0) + 1);
    return cost <= plainest + COST_MARGIN && (onByte.get(bytes) as number) <= 2;
  });
  return kept.slice(0, MOST_SELECTORS).map(({ selector }) => selector);
}

interface Priced { readonly selector: Selector; readonly cost: number }

function byField(frames: readonly Uint8Array[], meanings: readonly string[], free: Uint8Array): Priced[] {
  const found: Priced[] = [];
  const length = (frames[0] as Uint8Array).length;
  for (let at = 0; at < length; at++) {
    for (const mask of MASKS) {
      if ((mask & ~(free[at] as number)) !== 0) continue;
      const meaningOf = new Map<number, string>();
      const isClear = frames.every((frame, i) => {
        const value = (frame[at] as number) & mask;
        const meaning = meanings[i] as string;
        if (meaningOf.has(value) && meaningOf.get(value) !== meaning) return false;
        meaningOf.set(value, meaning);
        return true;
      });
      if (!isClear) continue;
      const rules = [...meaningOf].map(([equals, meaning]) => ({ bits: [{ at, mask, equals }], meaning }));
      const extra = meaningOf.size - new Set(meanings).size;
      found.push({ selector: { rules, otherwise: null }, cost: 10 * extra + bitCount(mask) });
    }
  }
  return found;
}

/** One mark lit for each meaning, save one that has none. */
function byBits(frames: readonly Uint8Array[], meanings: readonly string[], distinct: readonly string[], free: Uint8Array): Priced[] {
  const marksOf = new Map(distinct.map((meaning) => [meaning, marks(frames, meanings.map((each) => each === meaning), free)]));
  const found: Priced[] = [];
  for (const unmarked of [null, ...distinct]) {
    const marked = distinct.filter((meaning) => meaning !== unmarked);
    if (marked.length < 2) continue;
    const first = marked.map((meaning) => marksOf.get(meaning)?.[0]);
    if (first.some((bits) => bits === undefined)) continue;
    const rules = marked.map((meaning, i) => ({ bits: [first[i] as FrameBits], meaning }));
    found.push({ selector: { rules, otherwise: unmarked }, cost: 2 * marked.length });
  }
  return found;
}

/** Single bits that are lit exactly where they should be. */
export function marks(frames: readonly Uint8Array[], isLit: readonly boolean[], free: Uint8Array): FrameBits[] {
  const found: FrameBits[] = [];
  for (let at = 0; at < (frames[0] as Uint8Array).length; at++) {
    for (let bit = 0; bit < 8; bit++) {
      const mask = 1 << bit;
      if (((free[at] as number) & mask) === 0) continue;
      if (frames.every((frame, i) => (((frame[at] as number) & mask) !== 0) === isLit[i])) found.push({ at, mask, equals: mask });
    }
  }
  return found;
}

function bitCount(mask: number): number {
  return mask.toString(2).replaceAll('0', '').length;
}
