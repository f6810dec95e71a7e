/**
 * Spoken checks, settled readings and verdicts. Everything spoken is on the screen too. The newest sentence counts: one that
 * is out of date is cut off.
 */
import { dropoutsIn } from '../../server/diagnosis/judgement.ts';
import { effect } from '@preact/signals';
import { readingText } from '../figures/reading-text.ts';
import { voiceOn, voiceVolume } from '../preferences.ts';
import { firstReason, type NextStep } from '../next-step.ts';
import { captured, contact, faultSearch, judged, live, nextStep, route, staleFor } from '../state.ts';
import { checkName, judgedQuantity } from '../check-words.ts';
import { texts } from '../texts.ts';
import { noteSpeaking } from './listening.ts';
import { spokenCheck, spokenSentence } from './spoken.ts';

export const hasVoice = typeof speechSynthesis !== 'undefined';

export function say(sentence: string): void {
  if (!hasVoice || voiceVolume.value === 0) return;
  speechSynthesis.cancel();
  sayAfter(sentence);
}

/** Lets what is being said be said to its end. */
function sayAfter(sentence: string): void {
  if (!hasVoice || voiceVolume.value === 0) return;
  const utterance = new SpeechSynthesisUtterance(spokenSentence(sentence));
  utterance.lang = document.documentElement.lang;
  utterance.volume = voiceVolume.value;
  utterance.rate = 1.05;
  utterance.onend = noteSpeaking;
  speechSynthesis.speak(utterance);
}

/** Says the check again. */
export function repeatCheck(): void {
  const now = live.peek();
  if (now !== null) say(spokenCheck(now.check));
}

/** What comes next, and why where the search for the fault asks for it; empty when there is nothing else. */
function spokenNext(next: NextStep | null): string {
  if (next === null) return '';
  return next.kind === 'found' ? texts.next.found(next.words) : texts.next.spoken(checkName(next.check), firstReason(next.why));
}

/** Speaks from now on what changes, while the user wants it and the watch screen is open. */
export function startVoice(): void {
  let check = '';
  let take: number | null = null;
  let verdict = '';
  let announced = 0;
  /** A reading was said, and what comes next is not yet worked out. */
  let owesNext = false;
  let trouble = '';
  let pace = '';
  let rig = '';
  let warning = '';
  let source: string | null = null;
  effect(() => {
    const now = live.value;
    const known = judged.value;
    const isWanted = voiceOn.value && route.value.screen !== 'review';
    if (now === null) return;

    const wrong = contact.value.state === 'lost' ? texts.voice.noContact : staleFor.value !== null ? texts.voice.silent : '';
    if (wrong !== trouble) {
      if (isWanted && wrong !== '') say(wrong);
      trouble = wrong;
    }
    if (now.check.id !== check) {
      if (isWanted) say(spokenCheck(now.check));
      check = now.check.id;
    }
    const { wiggle } = now;
    const paced = wiggle.pace?.message ?? '';
    if (paced !== pace) {
      // Asked for by switching the pacing on: said whether or not the rest is.
      if (paced !== '' && route.value.screen === 'watch') say(paced);
      pace = paced;
    }
    if (now.rig.state !== rig) {
      if (isWanted && (now.rig.state === 'proving' || now.rig.state === 'loose' || (now.rig.state === 'proved' && rig === 'proving'))) say(now.rig.message);
      rig = now.rig.state;
    }
    const found = wiggle.report?.source ?? null;
    if (found !== source) {
      if (isWanted && found !== null) say(texts.wiggle.sourceFound(found));
      source = found;
    }
    const odd = now.warnings[0]?.message ?? '';
    if (odd !== warning) {
      if (isWanted && odd !== '') say(odd);
      warning = odd;
    }
    const running = now.take?.id ?? null;
    if (running !== take) {
      const isEnd = running === null && known !== null && known.take === take;
      if (isWanted && isEnd) say(`${texts.voice.ended(texts.verdict.words[known.judgement.verdict], now.ended[0]?.take.watching === 'spot' ? null : dropoutsIn(known.judgement))}${found === null ? '' : ` ${texts.wiggle.sourceFound(found)}`}`);
      take = running;
      verdict = '';
      announced = 0;
      owesNext = false;
    }
    if (known === null || known.take !== running) return;
    const { judgement } = known;
    const capture = captured.value;
    const isSpot = now.watching === 'spot';
    if (isSpot && capture !== null && capture.contact > announced) {
      announced = capture.contact;
      const value = capture.value === null ? texts.reading.beyond : readingText(judgedQuantity(judgement, now.check), capture.value, judgement.resolution);
      if (isWanted) say(texts.voice.settled(value, texts.verdict.words[judgement.verdict]));
      owesNext = true;
      verdict = judgement.verdict;
    }
    if (isSpot) {
      if (!owesNext || faultSearch.value?.state === 'working') return;
      owesNext = false;
      const next = spokenNext(nextStep.value);
      if (isWanted && next !== '') sayAfter(next);
    } else if (judgement.verdict !== verdict) {
      // Before the level is learned everything is undecided: nothing to say.
      if (isWanted && (verdict !== '' || judgement.verdict !== 'undecided')) say(`${texts.verdict.words[judgement.verdict]}. ${judgement.reasons[0] ?? ''}`);
      verdict = judgement.verdict;
    }
  });
}
