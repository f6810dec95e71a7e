/** Control by voice: what it means, the words, and the switch. */
import { Dialog } from '../parts/dialog.tsx';
import { COMMANDS } from '../sound/commands.ts';
import { canListen, heard, listening, startListening, stopListening } from '../sound/listening.ts';
import { texts } from '../texts.ts';

const t = texts.listening;

export function ListeningPanel({ onClose }: { onClose: () => void }) {
  const state = listening.value;
  const isOn = state === 'on' || state === 'away';
  return (
    <Dialog title={t.title} closeText={texts.settings.close} onClose={onClose}>
      <section class="setting">
        <p>{t.why}</p>
        <p><strong>{t.privacy}</strong></p>
        {!canListen() ? <p>{t.missing}</p> : (
          <button type="button" class="strong" aria-pressed={isOn} onClick={isOn ? stopListening : startListening}>{isOn ? t.stop : t.start}</button>
        )}
        <p role="status">{t.states[state]} {heardWords()}</p>
      </section>
      <section class="setting">
        <h3>{t.wordsTitle}</h3>
        <dl class="spoken-words">
          {COMMANDS.map((command) => [<dt key={command}>{t.words[command].map((word) => `“${word}”`).join(', ')}</dt>, <dd key={`${command} means`}>{t.meanings[command]}</dd>])}
          <dt>“{t.zoneWords[0]} …”, “{t.handsOff.join(' ')}”</dt><dd>{t.meanings.zone}</dd>
        </dl>
      </section>
    </Dialog>
  );
}

/** What was heard last; empty before the first word. */
export function heardWords(): string {
  const last = heard.value;
  if (last === null || listening.value !== 'on') return '';
  const { command } = last;
  return t.heard(last.said, command === null ? '' : command.kind === 'zone' ? t.zone(command.zone) : t.words[command.kind][0]!);
}
