/** Settings of this browser. */
import type { Signal } from '@preact/signals';
import { useState } from 'preact/hooks';
import { Choice } from '../parts/choice.tsx';
import { Dialog } from '../parts/dialog.tsx';
import { ACTIONS, chirpVolume, keyMap, keysOn, theme, toneOn, toneVolume, voiceOn, voiceVolume, type Action, type Theme } from '../preferences.ts';
import { keyName } from '../parts/key-cap.tsx';
import { allowSound } from '../sound/audio.ts';
import { chirp } from '../sound/chirp.ts';
import { hasVoice, repeatCheck } from '../sound/voice.ts';
import { texts } from '../texts.ts';

const THEMES: readonly Theme[] = ['system', 'light', 'dark'];

export function Settings({ onClose }: { onClose: () => void }) {
  const t = texts.settings;
  return (
    <Dialog title={t.title} closeText={t.close} onClose={onClose}>
      <section class="setting">
        <h3>{texts.sound.label}</h3>
        <Volume label={texts.sound.volume} of={chirpVolume} />
        <button type="button" onClick={() => void allowSound().then(chirp)}>{texts.sound.test}</button>
        <Switch label={texts.sound.toneOn} of={toneOn} />
        <Volume label={texts.sound.toneVolume} of={toneVolume} />
        {hasVoice ? <Switch label={texts.sound.voiceOn} of={voiceOn} /> : <p class="hint">{texts.sound.noVoice}</p>}
        {hasVoice && <Volume label={texts.sound.voiceVolume} of={voiceVolume} />}
        {hasVoice && <button type="button" onClick={repeatCheck}>{texts.sound.voiceTest}</button>}
      </section>
      <section class="setting">
        <Choice name="theme" label={t.theme} options={THEMES} value={theme.value} text={(name) => t.themes[name]} onChoose={(name) => (theme.value = name)} />
      </section>
      <KeySettings />
    </Dialog>
  );
}

function Volume({ label, of }: { label: string; of: Signal<number> }) {
  return (
    <label>{label}
      <input type="range" min="0" max="1" step="0.1" value={of.value} onInput={(e) => (of.value = Number(e.currentTarget.value))} />
    </label>
  );
}

function Switch({ label, of }: { label: string; of: Signal<boolean> }) {
  return <label class="switch"><input type="checkbox" checked={of.value} onChange={(e) => (of.value = e.currentTarget.checked)} /> {label}</label>;
}

function KeySettings() {
  const t = texts.settings;
  const [learning, setLearning] = useState<Action | null>(null);
  const learn = (action: Action) => (event: KeyboardEvent): void => {
    if (learning !== action || event.key === 'Tab' || event.key === 'Shift') return;
    event.preventDefault();
    event.stopPropagation();
    setLearning(null);
    if (event.key === 'Escape') return;
    const key = event.key.toLowerCase();
    const other = ACTIONS.find((name) => keyMap.value[name] === key);
    // A key means one thing: whoever had it gets the key that is given up.
    keyMap.value = { ...keyMap.value, ...(other === undefined ? {} : { [other]: keyMap.value[action] }), [action]: key };
  };
  return (
    <section class="setting">
      <h3>{t.keys}</h3>
      <Switch label={t.keysOn} of={keysOn} />
      <p class="hint">{t.keysWhy}</p>
      <ul class="keys">
        {ACTIONS.map((action) => (
          <li key={action}>
            <span>{t.actions[action]}</span> <kbd>{keyName(keyMap.value[action])}</kbd>
            <button type="button" aria-label={`${t.change}: ${t.actions[action]}`} onClick={() => setLearning(action)} onKeyDown={learn(action)} onBlur={() => setLearning(null)}>
              {learning === action ? t.pressKey : t.change}
            </button>
          </li>
        ))}
      </ul>
    </section>
  );
}
