/** What the simulated meter simulates: the complaint; what is wrong only for those who ask. Only there when one is in use. */
import { request } from '../../actions.ts';
import { live } from '../../state.ts';
import { texts } from '../../texts.ts';

export function SimulationStrip() {
  const { simulation, take, ended } = live.value!;
  // Once something was measured, the room belongs to that.
  const isFresh = take === null && ended.length === 0;
  if (simulation === null) return null;
  return (
    <section class={`simulation ${isFresh ? 'is-fresh' : ''}`} aria-label={texts.simulated.badge}>
      <p><strong>{texts.simulated.exercise}.</strong> {isFresh ? `${simulation.complaint} ${texts.simulated.find}` : texts.simulated.notReal}</p>
      <details>
        <summary>{texts.simulated.answer}</summary>
        <label>{texts.simulated.fault}
          <select value={simulation.fault} onChange={(e) => void request({ type: 'simulate', fault: e.currentTarget.value })}>
            {simulation.faults.map((fault) => <option key={fault.id} value={fault.id}>{fault.label}</option>)}
          </select>
        </label>
      </details>
    </section>
  );
}
