/** What an unknown meter says: how far finding it out is, and what came of it. */
import { useEffect, useRef } from 'preact/hooks';
import type { FoundGuess, LiveFinding } from '../../../server/live/protocol.ts';
import { live } from '../../state.ts';
import { texts } from '../../texts.ts';
import { shownText } from './shown-text.ts';
import { findOut, readBy, stopFinding, teachFound } from './teaching.ts';

/** For a meter that says something seldom, s. */
const LONG_PATIENCE = 40;

export function FindingPanel() {
  const finding = live.value?.finding ?? null;
  return finding === null ? null : <Finding finding={finding} />;
}

function Finding({ finding }: { finding: LiveFinding }) {
  const heading = useRef<HTMLHeadingElement>(null);
  // It was asked for further down the page: what comes of it must be seen.
  useEffect(() => heading.current?.focus(), []);
  const t = texts.finding;
  const isRunning = finding.phase === 'listening' || finding.phase === 'asking';
  return (
    <section class="finding" aria-label={t.label}>
      <div class="meter-card-head">
        <h2 ref={heading} tabIndex={-1}>{t.title}</h2>
        <button type="button" onClick={stopFinding}>{isRunning ? t.stop : t.close}</button>
      </div>
      <p class="meter-card-address">{finding.address}</p>
      {isRunning && (
        <>
          <progress value={finding.share} max={1} aria-label={t.progress} />
          <p>{finding.phase === 'asking' ? t.asking(finding.baud) : t.listening(finding.baud, finding.bytes)}</p>
        </>
      )}
      <div role="status">{!isRunning && <p class="finding-outcome">{outcomeText(finding)}</p>}</div>
      {finding.guesses.length > 0 && <ul class="guesses">{finding.guesses.map((guess, i) => <Guess key={guess.address} finding={finding} guess={guess} isBest={i === 0} />)}</ul>}
      {!isRunning && <NextSteps finding={finding} />}
    </section>
  );
}

function Guess({ finding, guess, isBest }: { finding: LiveFinding; guess: FoundGuess; isBest: boolean }) {
  const t = texts.finding;
  const [, options = ''] = guess.address.split('?');
  const settings = options.split('&').filter((option) => option !== '' && !/^(vendor|product|serial-number|label)=/.test(option)).map((option) => decodeURIComponent(option.replace('=', ' ')));
  return (
    <li class="meter-card">
      <div class="meter-card-head">
        <b class="guess-readings">{guess.readings.slice(-3).map(shownText).join(' · ') || t.noReadings}</b>
        <span class="tag">{t.confidence(guess.confidence)}</span>
      </div>
      <p>{settings.length === 0 ? t.asText : settings.join(' · ')}{guess.interval !== null && ` · ${t.every(guess.interval)}`}</p>
      {guess.doubts.map((doubt) => <p class="hint" key={doubt}>{doubt}</p>)}
      <div class="meter-card-buttons">
        <button type="button" class={isBest ? 'strong' : ''} onClick={() => void readBy(finding, guess)} aria-label={`${texts.meters.attach}: ${guess.readings.length === 0 ? guess.address : shownText(guess.readings.at(-1)!)}`}>{texts.meters.attach}</button>
      </div>
    </li>
  );
}

function NextSteps({ finding }: { finding: LiveFinding }) {
  const t = texts.finding;
  const { address, phase, wasAsked } = finding;
  return (
    <div class="meter-card-buttons">
      {phase === 'silent' && !wasAsked && <button type="button" class="strong" onClick={() => findOut(address, { mayAsk: true })}>{t.ask}</button>}
      {phase === 'silent' && <button type="button" onClick={() => findOut(address, { patience: LONG_PATIENCE })}>{t.longer(LONG_PATIENCE)}</button>}
      {phase === 'unrecognised' && <button type="button" class="strong" onClick={() => void teachFound(finding)}>{t.teach}</button>}
      {phase === 'recognised' && <button type="button" onClick={() => void teachFound(finding)}>{t.teachInstead}</button>}
      {phase !== 'silent' && <button type="button" onClick={() => findOut(address)}>{t.again}</button>}
    </div>
  );
}

function outcomeText({ phase, wasAsked, guesses, frames, baud, bytes, message }: LiveFinding): string {
  const t = texts.finding;
  switch (phase) {
    case 'recognised': return t.recognised(guesses.length);
    case 'unrecognised': return frames === null ? t.noise(baud, bytes) : t.frames(baud, frames.length, frames.count);
    case 'silent': return wasAsked ? t.stillSilent : t.silent;
    default: return message;
  }
}
