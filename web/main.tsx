import './plain-parsing.ts';
import { render } from 'preact';
import { effect } from '@preact/signals';
import { App } from './app.tsx';
import { startCarrying } from './carry/carrier.ts';
import { startKeys } from './keys.ts';
import { startLive } from './live/index.ts';
import { performCommand } from './perform.ts';
import { theme } from './preferences.ts';
import { parseRoute } from './routes.ts';
import { startAccess } from './screens/sharing/index.ts';
import { startChirping } from './sound/chirp.ts';
import { useCommands } from './sound/listening.ts';
import { startTone } from './sound/tone.ts';
import { startVoice } from './sound/voice.ts';
import { route } from './state.ts';
import './styles/index.css';

function readRoute(): void {
  route.value = parseRoute(location.hash);
}

readRoute();
addEventListener('hashchange', readRoute);
effect(() => {
  // At night in a vehicle a light screen blinds: the road screen is dark unless light was asked for.
  const wanted = theme.value === 'system' && route.value.screen === 'road' ? 'dark' : theme.value;
  if (wanted === 'system') delete document.documentElement.dataset.theme;
  else document.documentElement.dataset.theme = wanted;
});
startLive();
startAccess();
startCarrying();
startChirping();
startTone();
startVoice();
startKeys();
useCommands(performCommand);
render(<App />, document.getElementById('app')!);
