/** Sentences for the ear. Pure. */
import type { Check } from '../../server/session/session.ts';
import { texts } from '../texts.ts';

/** "CL-" is "CL minus", "C2/4" is "C2, 4". */
export function spokenPoint(point: string): string {
  return point.replace(/\+/g, ` ${texts.voice.plus}`).replace(/-/g, ` ${texts.voice.minus}`).replace(/\//g, ', ');
}

export function spokenCheck(check: Check): string {
  return texts.voice.check(texts.check.kinds[check.kind], spokenPoint(check.red), spokenPoint(check.black), check.condition);
}

/** A sentence of the screen as it is said: points spelled out wherever they stand, units as words, nothing in brackets. */
export function spokenSentence(sentence: string): string {
  const heard = sentence.replace(/ \([^)]*\)/g, '').replace(/\b([A-Z][A-Z0-9]*)(\/[A-Z0-9]+|[+-](?!\w|\.\d))/g, (point) => spokenPoint(point));
  return spokenUnits(heard);
}

/** Units as words: "1.904 V" is "1.904 volts". */
export function spokenUnits(sentence: string): string {
  return sentence.replace(/(\d) ?([kMmµu]?)(V|A|Ω|ohm|s)(?![\p{L}\d])/gu, (whole, digit: string, prefix: string, unit: string) => {
    const words = texts.voice.units[unit];
    return words === undefined ? whole : `${digit} ${texts.voice.prefixes[prefix] ?? ''}${words}`;
  });
}
