/** What is known of one meter: name, accuracy, leads, timing, calibration, isolation. */
import { useState } from 'preact/hooks';
import type { LiveMeter } from '../../../server/live/protocol.ts';
import { request } from '../../actions.ts';
import { typedNumber } from '../../check-words.ts';
import { texts } from '../../texts.ts';

const ISOLATED = { yes: true, no: false, unknown: null } as const;

export function MeterForm({ meter }: { meter: LiveMeter }) {
  const t = texts.settings;
  const m = texts.meters;
  const [error, setError] = useState('');
  const [isSaved, setSaved] = useState(false);
  const submit = (event: SubmitEvent): void => {
    event.preventDefault();
    const data = new FormData(event.currentTarget as HTMLFormElement);
    const text = (name: string) => String(data.get(name) ?? '').trim();
    const number = (name: string) => typedNumber(text(name));
    try {
      const percent = number('percent');
      const counts = number('counts');
      setError('');
      void request({
        type: 'describe-meter', meter: meter.index, label: text('label') || meter.label, calibrated: text('calibrated'),
        accuracy: percent === null && counts === null ? null : { fraction: (percent ?? 0) / 100, counts: counts ?? 0 },
        leadOhms: number('leadOhms'), interval: number('interval'), aperture: number('aperture'),
        isolated: ISOLATED[text('isolated') as keyof typeof ISOLATED] ?? null,
      }).then(setSaved);
    } catch (cause) {
      if (!(cause instanceof RangeError)) throw cause;
      setError(texts.check.badNumber);
    }
  };
  const text = (value: number | null | undefined) => (value === null || value === undefined ? '' : String(Number(value.toPrecision(6))));
  return (
    <form class="setting fields" onSubmit={submit} onInput={() => setSaved(false)} key={`${meter.leadOhms} ${meter.label}`}>
      <p class="hint">{t.meterWhy}</p>
      <label>{m.label}<input name="label" maxLength={100} defaultValue={meter.label} /></label>
      <label>{m.calibrated}<input name="calibrated" maxLength={40} defaultValue={meter.calibrated ?? ''} /></label>
      <label>{t.percent}<input name="percent" inputMode="decimal" defaultValue={text(meter.accuracy === null ? null : meter.accuracy.fraction * 100)} /></label>
      <label>{t.counts}<input name="counts" inputMode="decimal" defaultValue={text(meter.accuracy?.counts)} /></label>
      <label>{t.interval}<input name="interval" inputMode="decimal" defaultValue={text(meter.interval)} /></label>
      <label>{t.aperture}<input name="aperture" inputMode="decimal" defaultValue={text(meter.aperture)} /></label>
      <label>{t.leadOhms}<input name="leadOhms" inputMode="decimal" defaultValue={text(meter.leadOhms)} /></label>
      <label>{m.isolated}
        <select name="isolated" defaultValue={meter.isolated === true ? 'yes' : meter.isolated === false ? 'no' : 'unknown'}>
          {(['unknown', 'yes', 'no'] as const).map((choice) => <option key={choice} value={choice}>{m.isolatedChoices[choice]}</option>)}
        </select>
      </label>
      <p class="hint wide">{m.isolatedWhy}</p>
      <div class="wide">
        <button type="button" onClick={() => void request({ type: 'null-leads', meter: meter.index })}>{m.nullLeads}</button>
        <p class="hint">{m.nullHow}</p>
      </div>
      {error !== '' && <p class="form-error" role="alert">{error}</p>}
      <button type="submit">{t.save}</button> <span role="status">{isSaved ? t.saved : ''}</span>
    </form>
  );
}
