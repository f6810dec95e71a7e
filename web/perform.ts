/** What a key, a foot switch or a spoken word does. */
import { countFlex, flexZone, mark, startOrStopTake, switchSound } from './actions.ts';
import { accept, repeat, skip } from './guided.ts';
import type { Action } from './preferences.ts';
import { live, notice, route } from './state.ts';
import type { Command } from './sound/commands.ts';
import { texts } from './texts.ts';

export function perform(action: Action): void {
  switch (action) {
    case 'take': return startOrStopTake();
    case 'accept': return accept();
    case 'repeat': return repeat();
    case 'skip': return void skip();
    case 'mark': return void mark();
    case 'flex': return countFlex();
    case 'sound': return void switchSound();
  }
}

/** On the road a word can only mark: nobody stops a road test by talking to somebody else. */
export function performCommand(command: Command): void {
  if (command.kind === 'mark' && (route.value.screen === 'watch' || route.value.screen === 'road')) return perform('mark');
  if (route.value.screen !== 'watch') return;
  if (command.kind !== 'zone') return perform(command.kind);
  const wiggle = live.value?.wiggle;
  const zone = command.zone === 0 ? null : wiggle?.zones[command.zone - 1];
  if (zone === undefined) notice.value = { kind: 'trouble', text: texts.listening.noZone(command.zone) };
  // Said twice means the same zone, not hands off.
  else if (wiggle?.zone !== zone) flexZone(zone);
}
