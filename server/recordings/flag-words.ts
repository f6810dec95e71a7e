/** Flags of a sample as words, for files that people read. */
import { Flag } from '../../drivers/reading.ts';

const WORDS: readonly (readonly [bit: number, word: string])[] = [
  [Flag.overRange, 'over-range'], [Flag.negative, 'negative'], [Flag.blank, 'blank'], [Flag.hold, 'hold'], [Flag.minimum, 'minimum'],
  [Flag.maximum, 'maximum'], [Flag.average, 'average'], [Flag.relative, 'relative'], [Flag.autoRange, 'auto-range'],
  [Flag.lowBattery, 'low-battery'], [Flag.rangeHunt, 'range-hunt'], [Flag.diode, 'diode'], [Flag.continuity, 'continuity'],
];

const known = new Map<number, string>();

/** All flags as words, space-separated; bits without a word as "bit-13". */
export function flagWords(flags: number): string {
  const cached = known.get(flags);
  if (cached !== undefined) return cached;
  const named = WORDS.filter(([bit]) => (flags & bit) !== 0).map(([, word]) => word);
  const unnamed = Array.from({ length: 16 }, (_, i) => i)
    .filter((i) => (flags & (1 << i)) !== 0 && !WORDS.some(([bit]) => bit === 1 << i)).map((i) => `bit-${i}`);
  const words = [...named, ...unnamed].join(' ');
  known.set(flags, words);
  return words;
}

/** @returns the flags, or null when a word is not known */
export function flagsOfWords(words: string): number | null {
  let flags = 0;
  for (const word of words.split(' ').filter((part) => part !== '')) {
    const bit = WORDS.find(([, own]) => own === word)?.[0] ?? (/^bit-(\d|1[0-5])$/.test(word) ? 1 << Number(word.slice(4)) : undefined);
    if (bit === undefined) return null;
    flags |= bit;
  }
  return flags;
}

/** What `judge` reads as the flag of a sample: OL, blank, hold or nothing. */
export function judgeFlag(flags: number): string {
  if ((flags & Flag.overRange) !== 0) return 'OL';
  if ((flags & (Flag.blank | Flag.rangeHunt)) !== 0) return 'blank';
  return (flags & Flag.hold) !== 0 ? 'hold' : '';
}
