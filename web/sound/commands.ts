/** What a spoken word asks for. Pure. */
import { texts } from '../texts.ts';

export const COMMANDS = ['accept', 'repeat', 'skip', 'mark'] as const;
/** `zone` is the number of the zone that is flexed from now on; 0 for hands off. */
export type Command = { readonly kind: (typeof COMMANDS)[number] } | { readonly kind: 'zone'; readonly zone: number };

/** @returns the last command in what was said, null when there is none. Words inside other words don't count. */
export function commandIn(said: string): Command | null {
  const words = said.toLowerCase().split(/[^\p{L}\d]+/u).filter((word) => word !== '');
  const t = texts.listening;
  for (let i = words.length - 1; i >= 0; i--) {
    const word = words[i]!;
    if (t.zoneWords.includes(word)) {
      const zone = numberIn(words[i + 1] ?? '');
      if (zone !== null) return { kind: 'zone', zone };
    }
    if (t.handsOff.every((part, k) => words[i + k] === part)) return { kind: 'zone', zone: 0 };
    const kind = COMMANDS.find((command) => t.words[command].includes(word));
    if (kind !== undefined) return { kind };
  }
  return null;
}

function numberIn(word: string): number | null {
  if (/^\d{1,2}$/.test(word)) return Number(word);
  const at = texts.listening.numbers.findIndex((names) => names.includes(word));
  return at < 0 ? null : at;
}
