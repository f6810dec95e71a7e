/** What the simulated meter simulates. Only there when one is in use. */
import { request } from '../../actions.ts';
import { live } from '../../state.ts';
import { texts } from '../../texts.ts';

export function SimulationStrip() {
  const simulation = live.value!.simulation;
  if (simulation === null) return null;
  return (
    <section class="simulation" aria-label={texts.simulated.badge}>
      <p><strong>{texts.simulated.badge}.</strong> {texts.simulated.long}</p>
      <label>{texts.simulated.fault}
        <select value={simulation.fault} onChange={(e) => void request({ type: 'simulate', fault: e.currentTarget.value })}>
          {simulation.faults.map((fault) => <option key={fault.id} value={fault.id}>{fault.label}</option>)}
        </select>
      </label>
    </section>
  );
}
