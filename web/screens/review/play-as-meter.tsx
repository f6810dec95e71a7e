/** A recorded take, played again as if its meter were here: for practice, and to try another check on it. */
import { useState } from 'preact/hooks';
import type { MeterRecord } from '../../../server/session/session.ts';
import { request } from '../../actions.ts';
import { ask, RequestFailed } from '../../live/index.ts';
import { notice } from '../../state.ts';
import { texts } from '../../texts.ts';

const t = texts.playing;
const SPEEDS = [1, 2, 5, 10, 50] as const;

export function PlayAsMeter({ session, take }: { session: string; take: number }) {
  const [speed, setSpeed] = useState<number>(SPEEDS[0]);
  const play = async (): Promise<void> => {
    try {
      const { index } = (await ask({ type: 'play-take', session, take, speed })) as MeterRecord;
      if (await request({ type: 'judge-by', meter: index })) location.hash = '#watch';
    } catch (error) {
      if (!(error instanceof RequestFailed)) throw error;
      notice.value = { kind: 'trouble', text: error.message };
    }
  };
  return (
    <details class="help">
      <summary>{t.title}</summary>
      <p class="hint">{t.why}</p>
      <div class="trace-buttons">
        <label class="inline">{t.speed}
          <select value={speed} onChange={(event) => setSpeed(Number(event.currentTarget.value))}>
            {SPEEDS.map((one) => <option key={one} value={one}>{t.times(one)}</option>)}
          </select>
        </label>
        <button type="button" onClick={() => void play()}>{t.play}</button>
      </div>
      {speed > 1 && <p class="hint">{t.faster}</p>}
    </details>
  );
}
