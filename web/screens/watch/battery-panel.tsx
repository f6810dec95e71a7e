/** The battery beside the take: a second meter across it, or readings of it before and after. Both dip: the source moved, not the harness. */
import { useState } from 'preact/hooks';
import type { BatteryReading } from '../../../server/session/battery-reference.ts';
import { request } from '../../actions.ts';
import { typedNumber } from '../../check-words.ts';
import { readingText } from '../../figures/reading-text.ts';
import { clockText } from '../../figures/time-text.ts';
import { latest, live } from '../../state.ts';
import { texts } from '../../texts.ts';

const t = texts.battery;

export function BatteryPanel() {
  const { reference, meters, judgedMeter, take } = live.value!;
  const others = meters.filter(({ index }) => index !== (take?.meter ?? judgedMeter));
  const beside = reference.meter === null ? undefined : latest.value.get(reference.meter);
  return (
    <details class="before battery">
      <summary>{t.title}</summary>
      <p class="hint">{t.why}</p>
      {others.length > 0 && (
        <label>{t.meter}
          <select value={reference.meter === null ? '' : String(reference.meter)}
            onChange={(e) => void request({ type: 'refer-to', meter: e.currentTarget.value === '' ? null : Number(e.currentTarget.value) })}>
            <option value="">{t.noMeter}</option>
            {others.map(({ index, label, address }) => <option key={index} value={index}>{label || address}</option>)}
          </select>
        </label>
      )}
      {others.length === 0 && <p class="hint">{t.oneMeter}</p>}
      {beside !== undefined && <p>{t.now(readingText(beside.quantity, beside.value, beside.resolution))}{take !== null && take.reference !== reference.meter ? ` ${t.fromNext}` : ''}</p>}
      {reference.meter === null && <TypedReading />}
      <ul class="battery-readings">
        <Reading name={t.before} reading={reference.before} />
        <Reading name={t.after} reading={reference.after} />
      </ul>
      {reference.message !== '' && !reference.hasMoved && <p>{reference.message}</p>}
    </details>
  );
}

function Reading({ name, reading }: { name: string; reading: BatteryReading | null }) {
  return reading === null ? null : <li>{t.reading(name, readingText('voltage', reading.volts, 0.01), clockText(reading.at))}</li>;
}

/** Read off the same meter between takes, or off any other. */
function TypedReading() {
  const [error, setError] = useState('');
  const submit = (event: SubmitEvent): void => {
    event.preventDefault();
    const form = event.currentTarget as HTMLFormElement;
    try {
      const volts = typedNumber(String(new FormData(form).get('volts') ?? ''));
      if (volts === null || volts < 0 || volts > 60) throw new RangeError('no battery voltage');
      setError('');
      void request({ type: 'battery', volts }).then((isDone) => isDone && form.reset());
    } catch (cause) {
      if (!(cause instanceof RangeError)) throw cause;
      setError(t.badVolts);
    }
  };
  return (
    <form class="reseat" onSubmit={submit}>
      <label>{t.typed}<input name="volts" inputMode="decimal" maxLength={8} placeholder="12.6" aria-invalid={error !== ''} /></label>
      <button type="submit">{texts.check.reseated}</button>
      {error !== '' && <p class="form-error hint" role="alert">{error}</p>}
    </form>
  );
}
