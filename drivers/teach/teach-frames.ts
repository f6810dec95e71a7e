/**
 * Works a layout out from captured frames and what the display showed for some of them. Every way in which digits, sign,
 * point, unit and over-range can lie in the frame is tried; what fits all examples is kept; where the ways that are left
 * disagree about another captured frame, that frame is the question to ask next. Pure.
 */
import { FrameDecoder, meaningOfWords } from '../decoders/frame-decoder.ts';
import { type FrameBits, type FrameLayout, type FrameRule, parseFrameLayout } from '../decoders/frame-layout.ts';
import { CHECKSUMS, checksumFits, checksumLength } from '../decoders/checksum.ts';
import { Flag, type Reading, UNITS } from '../reading.ts';
import { type DigitsFit, fitDigits, type NumberExample } from './digits.ts';
import type { Taught, TeachExample } from './examples.ts';
import { type FramesFound, markBytes, newsOf } from './frames.ts';
import { findSelectors, marks, type Selector } from './selectors.ts';
import { readShownText, type Shown } from './shown.ts';

/** Fewer examples than this fit by chance. */
const FEWEST_EXAMPLES = 3;
const MOST_LAYOUTS = 1500;

interface Example { readonly frame: Uint8Array; readonly shown: Shown }

/**
 * @param found  captured frames, see `findFrames`
 * @param examples  of frames of that length; about six, different from each other, teach most meters
 * @param name  of the layout: small letters, digits, hyphens
 * @param origin  said in the layout, e.g. "taught on 2026-11-25"
 * @param leavesUnknown  captured frames with a mark that was never typed for are left unread instead of being asked for
 */
export function teachFrames(found: FramesFound, examples: readonly TeachExample[], name: string, origin: string, leavesUnknown = false): Taught {
  const read: Example[] = [];
  for (const { frame, shown } of examples) {
    const parsed = readShownText(shown);
    if (parsed === null) return { kind: 'failed', why: `"${shown}" is no number and no over-range; type what the display shows, such as -12.34 V or OL` };
    if (frame.length !== found.length) return { kind: 'failed', why: `an example has ${frame.length} bytes where frames have ${found.length}` };
    read.push({ frame, shown: parsed });
  }
  const numbers = read.flatMap(({ frame, shown }): NumberExample[] => (shown.kind === 'number' ? [{ frame, ...shown }] : []));
  if (new Set(numbers.map(({ negative, digits }) => `${negative}${Number(digits)}`)).size < FEWEST_EXAMPLES) {
    return { kind: 'failed', why: `at least ${FEWEST_EXAMPLES} different numbers are needed; change what is measured and type on` };
  }
  const overFrames = read.filter(({ shown }) => shown.kind === 'over-range').map(({ frame }) => frame);
  // A frame known to be over-range need not hold digits; of the others it may be any.
  const frames = found.frames.map(({ bytes }) => bytes).filter((frame) => !overFrames.some((over) => isSame(over, frame)));
  const fits = [...fitDigits(frames, numbers), ...fitDigits(numbers.map(({ frame }) => frame), numbers)];
  if (fits.length === 0) return { kind: 'failed', why: 'no digits are found that fit all examples; was each value read at the moment of its capture?' };
  const layouts = uniqueFits(fits).flatMap((fit) => layoutsOf(fit, found, read, numbers, name, origin)).slice(0, MOST_LAYOUTS);
  if (layouts.length === 0) return { kind: 'failed', why: 'digits are found, but no bits that tell sign, point, unit or over-range; type more examples, and with their unit' };
  return choose(layouts, found, read, numbers, leavesUnknown);
}

function uniqueFits(fits: readonly DigitsFit[]): DigitsFit[] {
  const seen = new Set<string>();
  return fits.filter((fit) => {
    const key = JSON.stringify([fit.digits, fit.fixedDecimals]);
    return !seen.has(key) && seen.add(key);
  });
}

/** All layouts that this way of reading the digits leaves. */
function layoutsOf(fit: DigitsFit, found: FramesFound, read: readonly Example[], numbers: readonly NumberExample[], name: string, origin: string): FrameLayout[] {
  const free = fit.taken.map((taken) => ~taken & 0xff);
  for (const at of found.counters) free[at] = 0;
  // What is the same in all frames can't tell them apart, and counters and check sums only do so by chance.
  const frames = numbers.map(({ frame }) => frame);
  const signs = fit.carriesSign ? [NO_SELECTOR] : findSelectors(frames, numbers.map(({ negative, digits }) => (negative && Number(digits) !== 0 ? 'minus' : '')), free);
  const points = fit.carriesPoint ? [NO_SELECTOR] : findSelectors(frames, numbers.map(({ decimals }) => String(decimals)), free);
  const withWords = read.filter(({ shown }) => shown.words.length > 0);
  const units = withWords.length === 0 ? [NO_SELECTOR] : findSelectors(withWords.map(({ frame }) => frame), withWords.map(({ shown }) => shown.words.join(' ')), free);
  const overs = overRangeRules(fit, read, free);
  const layouts: FrameLayout[] = [];
  const checksum = findChecksum(found);
  for (const sign of signs) {
    for (const point of points) {
      for (const unit of units) {
        for (const over of overs.slice(0, 4)) {
          const layout = assemble(fit, found, checksum, sign, point, unit, over, numbers, read, name, origin);
          if (layout !== null) layouts.push(layout);
        }
      }
    }
  }
  return layouts;
}

const NO_SELECTOR: Selector = { rules: [], otherwise: null };

/** Rules for over-range; one empty list when the digits say it themselves or no example shows it. */
function overRangeRules(fit: DigitsFit, read: readonly Example[], free: Uint8Array): FrameRule[][] {
  const over = read.filter(({ shown }) => shown.kind === 'over-range');
  if (over.length === 0 || over.every(({ frame }) => isOverRangeByDigits(fit, frame))) return [[]];
  const isOver = read.map(({ shown }) => shown.kind === 'over-range');
  const frames = read.map(({ frame }) => frame);
  const bits = marks(frames, isOver, free);
  // Characters or halves that are no digits take the digits' own place.
  const all = bits.length > 0 ? bits : marks(frames, isOver, new Uint8Array(free.length).fill(0xff));
  return all.map((mark) => [{ when: [mark], overRange: true }]);
}

function isOverRangeByDigits(fit: DigitsFit, frame: Uint8Array): boolean {
  const layout: FrameLayout = { layout: 'frame/1', name: 'x', origin: 'x', description: '', length: frame.length, fixed: [], known: [], digits: fit.digits, decimals: 0, words: [], rules: [] };
  const readings = decodeAll(layout, frame);
  return readings.length === 1 && Number.isNaN((readings[0] as Reading).value);
}

function assemble(
  fit: DigitsFit, found: FramesFound, checksum: FrameLayout['checksum'], sign: Selector, point: Selector, unit: Selector, over: readonly FrameRule[],
  numbers: readonly NumberExample[], read: readonly Example[], name: string, origin: string,
): FrameLayout | null {
  const rules: FrameRule[] = [];
  for (const { bits, meaning } of sign.rules) if (meaning === 'minus') rules.push({ when: bits, negative: true });
  for (const { bits, meaning } of point.rules) rules.push({ when: bits, decimals: Number(meaning) });
  for (const { bits, meaning } of unit.rules) rules.push({ when: bits, words: meaning.split(' ') });
  rules.push(...over);
  const decimals = fit.fixedDecimals ?? (point.otherwise === null ? (fit.carriesPoint ? 0 : (numbers[0] as NumberExample).decimals) : Number(point.otherwise));
  const words = unit.otherwise === null ? [] : unit.otherwise.split(' ');
  const data = {
    layout: 'frame/1', name, origin, description: `Taught from ${read.length} examples.`, length: found.length, fixed: fixedBits(found, fit, rules, checksum), known: knownValues(found, fit, checksum, read, point),
    ...(checksum === undefined ? {} : { checksum }), digits: fit.digits, decimals, words, rules,
  };
  const parsed = parseFrameLayout(data);
  if (parsed.kind === 'unusable') return null;
  return read.every((example) => agrees({ ...parsed.layout, known: [] }, example)) ? parsed.layout : null;
}

/**
 * All bits that never changed and that no rule asks for. A mark that was not seen while teaching (another unit, hold, a minus) then makes
 * a frame unreadable rather than wrong.
 */
function fixedBits(found: FramesFound, fit: DigitsFit, rules: readonly FrameRule[], checksum: FrameLayout['checksum']): FrameBits[] {
  const asked = fit.taken.slice();
  for (const { when } of rules) for (const { at, mask } of when) asked[at] = (asked[at] as number) | mask;
  for (let i = 0; checksum !== undefined && i < checksumLength(checksum.as); i++) asked[checksum.at + i] = 0xff;
  return found.fixed.flatMap(({ mask, value }, at) => {
    const usable = mask & ~(asked[at] as number);
    return usable === 0 ? [] : [{ at, mask: usable, equals: value & usable }];
  });
}

/**
 * What the bits outside digits, check sum and counters were in the examples: other values may be a unit, a range or a mark that
 * would be read over. Fields that change with every frame are left out: they say nothing that a display shows.
 */
function knownValues(found: FramesFound, fit: DigitsFit, checksum: FrameLayout['checksum'], read: readonly Example[], point: Selector): FrameLayout['known'] {
  // A display that stands still sends the same frame again and again, which says nothing new.
  const different = new Set(found.frames.map(({ bytes }) => bytes.join())).size;
  return found.fixed.flatMap(({ mask: fixed }, at) => {
    const isCheck = checksum !== undefined && at >= checksum.at && at < checksum.at + checksumLength(checksum.as);
    const mask = ~fixed & ~(fit.taken[at] as number) & 0xff;
    if (isCheck || mask === 0 || found.counters.includes(at)) return [];
    const captured = new Set(found.frames.map(({ bytes }) => (bytes[at] as number) & mask));
    if (captured.size > Math.max(8, different / 4)) return [];
    // An over-range shows no point: it says nothing of where the point is.
    const tellsPoint = point.rules.some(({ bits }) => bits.some((each) => each.at === at));
    const telling = read.filter(({ shown }) => shown.kind === 'number' || !tellsPoint);
    return [{ at, mask, values: [...new Set(telling.map(({ frame }) => (frame[at] as number) & mask))].sort((a, b) => a - b) }];
  });
}

function hasUnknownValue(layout: FrameLayout, frame: Uint8Array): boolean {
  return layout.known.some(({ at, mask, values }) => !values.includes((frame[at] as number) & mask));
}

/** A check sum that fits every captured frame, over everything before it or all but the first byte. */
function findChecksum(found: FramesFound): FrameLayout['checksum'] {
  const frames = found.frames.map(({ bytes }) => bytes);
  if (frames.length < FEWEST_EXAMPLES) return undefined;
  for (const as of CHECKSUMS) {
    // The sum stands at the end, or before one byte that ends the frame.
    for (const at of [found.length - checksumLength(as), found.length - checksumLength(as) - 1]) {
      for (let from = 0; from <= 2 && from < at - 1; from++) {
        const varies = new Set(frames.map((frame) => frame[at])).size > 1;
        if (varies && frames.every((frame) => checksumFits(as, frame, from, at))) return { as, from, at };
      }
    }
  }
  return undefined;
}

function agrees(layout: FrameLayout, { frame, shown }: Example): boolean {
  const [reading, ...more] = decodeAll(layout, frame);
  if (reading === undefined || more.length > 0) return false;
  const meaning = meaningOfWords(shown.words);
  if (meaning === null) return false;
  if (shown.words.length > 0 && (reading.quantity !== meaning.quantity || reading.coupling !== meaning.coupling)) return false;
  if (shown.kind === 'over-range') return (reading.flags & 1) === 1;
  if (Number.isNaN(reading.value)) return false;
  // Typed without a unit beside others with one: only the sign can be compared.
  if (shown.words.length === 0 && reading.quantity !== 'unknown') return Math.sign(reading.value) === (shown.negative ? -1 : 1) * Math.sign(Number(shown.digits));
  const size = Number(`${shown.digits}e${meaning.exponent - shown.decimals}`);
  const expected = shown.negative ? -size : size;
  return Math.abs(reading.value - expected) <= 1e-9 * Math.abs(expected);
}

function decodeAll(layout: FrameLayout, frame: Uint8Array): Reading[] {
  const readings: Reading[] = [];
  new FrameDecoder(layout).decode(frame, { reading: (reading) => void readings.push(reading), skipped: () => undefined });
  return readings;
}

function textOf(layout: FrameLayout, frame: Uint8Array): string {
  const [reading] = decodeAll(layout, frame);
  if (reading === undefined) return 'no value';
  const meaning = [reading.quantity === 'unknown' ? '' : UNITS[reading.quantity], reading.coupling === 'none' ? '' : reading.coupling.toUpperCase()].filter((word) => word !== '');
  if (Number.isNaN(reading.value)) return (reading.flags & Flag.overRange) !== 0 ? ['OL', ...meaning].join(' ') : 'blank';
  return [Number(reading.value.toPrecision(12)), ...meaning].join(' ');
}

/** Takes the plainest layout when all agree about all captured frames, else asks for the frame about which they disagree most. */
function choose(layouts: readonly FrameLayout[], found: FramesFound, read: readonly Example[], numbers: readonly NumberExample[], leavesUnknown: boolean): Taught {
  const frames = found.frames.map(({ bytes }) => bytes);
  // A layout that makes nothing of many captured frames is a worse explanation than one that reads them; values never typed for aside.
  const unread = layouts.map((layout) => frames.filter((frame) => decodeAll({ ...layout, known: [] }, frame).length === 0).length);
  const fewest = Math.min(...unread);
  const kept = layouts.filter((_, i) => unread[i] === fewest);
  let most: { frame: Uint8Array; texts: string[]; news: number } | null = null;
  const seen = read.map(({ frame }) => frame);
  const isMark = markBytes(found);
  for (const frame of frames) {
    const texts = [...new Set(kept.map((layout) => textOf({ ...layout, known: [] }, frame)))];
    if (texts.length < 2 || texts.length < (most?.texts.length ?? 0)) continue;
    // Of those that tell the ways apart as well, the one that shows most that no example showed: it need not be asked for later.
    const news = newsOf(isMark, seen, frame);
    if (most === null || texts.length > most.texts.length || news > most.news) most = { frame, texts, news };
  }
  if (most !== null) {
    const ways = new Set(kept.map((layout) => frames.map((frame) => textOf({ ...layout, known: [] }, frame)).join('|'))).size;
    return { kind: 'ambiguous', ways, ask: { frame: most.frame, couldBe: most.texts } };
  }
  const layout = kept[0] as FrameLayout;
  const strange = frames.filter((frame) => hasUnknownValue(layout, frame) && !read.some((example) => isSame(example.frame, frame)));
  if (strange[0] !== undefined && !leavesUnknown) return { kind: 'ambiguous', ways: 1, ask: { frame: strange[0], couldBe: [textOf({ ...layout, known: [] }, strange[0])] } };
  const left = strange.length === 0 ? [] : [`What ${strange.length} of ${frames.length} captured frames show: they have a mark that no example has, and are left unread.`];
  return { kind: 'taught', layout, undetermined: [...undetermined(layout, read, numbers), ...left] };
}

function undetermined(layout: FrameLayout, read: readonly Example[], numbers: readonly NumberExample[]): string[] {
  const open: string[] = [];
  const isSelfTelling = layout.digits.as === 'segments' || layout.digits.as === 'ascii';
  if (!numbers.some(({ negative }) => negative)) open.push('How a minus is shown: swap the leads on a battery and type the value.');
  if (!isSelfTelling && !read.some(({ shown }) => shown.kind === 'over-range')) open.push('How over-range is shown: measure ohms with the leads apart and type OL.');
  if (new Set(numbers.map(({ decimals }) => decimals)).size === 1) open.push('How the decimal point moves: measure something in another range.');
  if (read.every(({ shown }) => shown.words.length === 0)) open.push('The unit: type it behind the value.');
  else if (new Set(read.map(({ shown }) => shown.words.join(' '))).size === 1) open.push('How other units are shown: turn the switch to another function and type the value with its unit.');
  return open;
}

function isSame(a: Uint8Array, b: Uint8Array): boolean {
  return a.length === b.length && a.every((byte, i) => byte === b[i]);
}
