/**
 * What the simulated meter simulates: the complaint; what is wrong only for those who ask. Only there when one is in use; while a real
 * meter judges beside it, that the checks at hand are still those of the practice harness.
 */
import { request } from '../../actions.ts';
import { routeHash } from '../../routes.ts';
import { live, meter } from '../../state.ts';
import { texts } from '../../texts.ts';

export function SimulationStrip() {
  const { simulation, take, ended, chart } = live.value!;
  // Once something was measured, the room belongs to that.
  const isFresh = take === null && ended.length === 0;
  if (simulation === null) return null;
  const judging = meter.value;
  if (judging !== null && !judging.simulated && judging.playedAt === undefined) {
    if (chart.isOwn) return null;
    return (
      <section class="simulation" aria-label={texts.simulated.badge}>
        <p><strong>{texts.simulated.otherHarness}</strong> <a href={routeHash({ screen: 'meters' })}>{texts.simulated.letGo}</a></p>
      </section>
    );
  }
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
