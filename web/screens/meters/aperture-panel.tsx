/** The aperture of a meter, measured while its user taps a steady voltage with the lead. */
import type { LiveMeter } from '../../../server/live/protocol.ts';
import { request } from '../../actions.ts';
import { durationRangeText, durationText } from '../../figures/time-text.ts';
import { texts } from '../../texts.ts';

const t = texts.profile.tapping;
/** Edges for limits of about a tenth of the interval: fifty taps. */
const USUAL_EDGES = 100;

export function AperturePanel({ meter, onUse }: { meter: LiveMeter; onUse: (aperture: number) => void }) {
  const { tapping } = meter;
  const run = (isRunning: boolean) => request({ type: 'measure-aperture', meter: meter.index, isRunning });
  if (tapping === null) {
    return (
      <div class="wide">
        <button type="button" onClick={() => void run(true)}>{t.start}</button>
        <p class="hint">{t.how}</p>
      </div>
    );
  }
  const { aperture, edges, edgesNeeded, isAveraging, isTooShort } = tapping;
  return (
    <div class="wide tapping" role="group" aria-label={t.start}>
      <p><b>{t.now}</b></p>
      <progress value={edges} max={edges + (edgesNeeded ?? USUAL_EDGES)} aria-label={t.edges(edges)} />
      <p role="status">{t.edges(edges)}{edgesNeeded === null ? '' : edgesNeeded === 0 ? ` ${t.enough}` : ` ${t.more(Math.ceil(edgesNeeded / 2))}`}</p>
      {aperture !== null && <p>{t.found(durationText(aperture.estimate), durationRangeText(aperture.low, aperture.high, texts.dropouts))}</p>}
      {isTooShort && <p class="hint">{t.tooShort}</p>}
      {isAveraging && <p class="hint">{t.averaging}</p>}
      <div class="meter-card-buttons">
        <button type="button" class="strong" disabled={aperture === null} onClick={() => aperture !== null && void run(false).then((isDone) => isDone && onUse(Number(aperture.estimate.toPrecision(3))))}>{t.use}</button>
        <button type="button" onClick={() => void run(false)}>{t.stop}</button>
      </div>
    </div>
  );
}
