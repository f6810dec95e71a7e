/** Motion and position of this device, each by its user's choice. */
import { motionState, positionState, startMotion, startPosition, stopMotion, stopPosition, type SensorState } from '../../road/motion.ts';
import { live } from '../../state.ts';
import { texts } from '../../texts.ts';

const t = texts.road;

export function Sensors() {
  const { channels } = live.value!.road;
  const newest = (channel: string) => channels.find((one) => one.channel === channel)?.value;
  const acceleration = newest('acceleration');
  const speed = newest('speed');
  return (
    <fieldset class="sensors">
      <legend>{t.sensors}</legend>
      <Sensor name={t.motion} state={motionState.value} value={acceleration === undefined ? '' : t.metresPerSecond2(acceleration.toFixed(1))}
        onSwitch={(on) => (on ? void startMotion() : stopMotion())} />
      <Sensor name={t.position} state={positionState.value} value={speed === undefined ? '' : t.metresPerSecond(speed.toFixed(1))}
        onSwitch={(on) => (on ? startPosition() : stopPosition())} />
    </fieldset>
  );
}

function Sensor({ name, state, value, onSwitch }: { name: string; state: SensorState; value: string; onSwitch: (on: boolean) => void }) {
  const isOn = state === 'on' || state === 'asking' || state === 'silent';
  return (
    <label class="switch">
      <input type="checkbox" checked={isOn} onChange={(e) => onSwitch(e.currentTarget.checked)} /> {name}
      <span class="hint">{state === 'on' && value !== '' ? value : t.sensorStates[state]}</span>
    </label>
  );
}
