/** Screens, state of the connections, sound and settings. */
import { useState } from 'preact/hooks';
import { switchSound } from '../actions.ts';
import { durationText } from '../figures/time-text.ts';
import { BrandMark, Icon, StateDot } from '../parts/glyphs.tsx';
import { routeHash, type Route } from '../routes.ts';
import { access, SharingPanel } from '../screens/sharing/index.ts';
import { soundState } from '../sound/audio.ts';
import { contact, isTouchLocked, live, meter, pulse, reading, route, staleFor } from '../state.ts';
import { texts } from '../texts.ts';
import { SessionPanel } from './session-panel.tsx';
import { Settings } from './settings.tsx';

export function Header() {
  const [isSetting, setSetting] = useState(false);
  const [isSharing, setSharing] = useState(false);
  const [isNoting, setNoting] = useState(false);
  const screen = route.value.screen;
  const here = (name: Route['screen']) => (screen === name ? 'page' : undefined);
  const sound = soundState.value;
  return (
    <header class="bar" inert={isTouchLocked.value}>
      <p class="brand"><BrandMark /> {texts.appName}</p>
      <nav aria-label={texts.nav.label}>
        <a href={routeHash({ screen: 'watch' })} aria-current={here('watch')}>{texts.nav.watch}</a>
        <a href={routeHash({ screen: 'road' })} aria-current={here('road')}>{texts.nav.road}</a>
        <a href={routeHash({ screen: 'chart' })} aria-current={here('chart')}>{texts.nav.chart}</a>
        <a href={routeHash({ screen: 'repair', session: null })} aria-current={here('repair')}>{texts.nav.repair}</a>
        <a href={routeHash({ screen: 'review', session: null, take: null })} aria-current={here('review')}>{texts.nav.review}</a>
      </nav>
      <ul class="contacts" aria-label={texts.contact.label}>
        <li><ServiceContact /></li>
        <li><a class="chip-link" href={routeHash({ screen: 'meters' })} aria-current={here('meters')}><span class="sr-only">{texts.nav.meters}: </span><MeterContact /></a></li>
        <li><button type="button" class="chip-link" onClick={() => setNoting(true)}><span class="sr-only">{texts.session.open}: </span><Recording /></button></li>
        {access.value?.role === 'watch' && <li><span class="tag">{texts.sharing.watchOnly}</span></li>}
      </ul>
      <div class="bar-buttons">
        <button type="button" class={`sound is-${sound}`} aria-pressed={sound === 'on'} onClick={() => void switchSound()}>
          <Icon name={sound === 'on' ? 'sound' : 'mute'} /> <span class="wide-only">{texts.sound[sound]}</span>
          <span class="narrow-only"><span class="sr-only">{texts.sound[sound]}</span></span>
        </button>
        {access.value?.isMainScreen === true && <button type="button" onClick={() => setSharing(true)}><Icon name="devices" /> <span class="wide-only">{texts.sharing.open}</span><span class="narrow-only"><span class="sr-only">{texts.sharing.open}</span></span></button>}
        <button type="button" onClick={() => setSetting(true)}><Icon name="settings" /> <span class="wide-only">{texts.settings.open}</span><span class="narrow-only"><span class="sr-only">{texts.settings.open}</span></span></button>
      </div>
      {isSharing && <SharingPanel onClose={() => setSharing(false)} />}
      {isNoting && <SessionPanel onClose={() => setNoting(false)} />}
      {isSetting && <Settings onClose={() => setSetting(false)} />}
    </header>
  );
}

function ServiceContact() {
  const { state, heardAt } = contact.value;
  const age = heardAt === null ? null : Math.max(0, Math.max(pulse.value, heardAt) - heardAt);
  const text = state === 'connecting' ? texts.contact.connecting
    : state === 'open' ? texts.contact.connected
    : age === null ? texts.contact.lostNever : texts.contact.lost(durationText(age));
  return <Chip name={texts.contact.service} text={text} dot={state === 'open' ? 'good' : state === 'lost' ? 'bad' : 'waiting'} />;
}

function MeterContact() {
  const shown = meter.value;
  if (shown === null) return <Chip name={texts.contact.meter} text={texts.contact.noMeter} dot="off" />;
  const isReached = contact.value.state === 'open';
  const stale = staleFor.value;
  const { state } = shown.link;
  const text = stale !== null ? texts.contact.silentFor(durationText(stale))
    : state === 'open' && reading.value === null ? texts.contact.waitingFirst : texts.contact.link[state];
  const dot = !isReached ? 'off' : state === 'open' && stale === null ? 'good' : state === 'opening' ? 'waiting' : 'bad';
  return <Chip name={shown.label || texts.contact.meter} text={isReached ? text : '?'} dot={dot} />;
}

function Recording() {
  const state = live.value?.recording.state ?? 'idle';
  if (contact.value.state !== 'open') return <Chip name={texts.recording.label} text="?" dot="off" />;
  const text = { saving: texts.recording.saving, idle: texts.recording.idle, 'not-saving': texts.recording.notSaving }[state];
  const { vehicle, title } = live.value?.session ?? { vehicle: '', title: '' };
  return <Chip name={vehicle || title} text={text} dot={state === 'saving' ? 'good' : state === 'idle' ? 'off' : 'bad'} />;
}

function Chip({ name, text, dot }: { name: string; text: string; dot: 'good' | 'waiting' | 'bad' | 'off' }) {
  return <span class={`chip is-${dot}`}><StateDot state={dot} />{name !== '' && <span class="chip-name">{name}</span>} <b>{text}</b></span>;
}
