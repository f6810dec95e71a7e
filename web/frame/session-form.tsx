/** What is known of the session: all of it can be left out, added later, and is not overwritten when somebody else changed it. */
import { useState } from 'preact/hooks';
import { request } from '../actions.ts';
import { SYSTEM_VOLTAGES } from '../../server/session/limits.ts';
import { typedNumber } from '../check-words.ts';
import { live } from '../state.ts';
import { texts } from '../texts.ts';

const t = texts.session;

export function SessionForm() {
  const [isSaved, setSaved] = useState(false);
  const [error, setError] = useState('');
  // What the form shows; a change that somebody else makes meanwhile is not overwritten.
  const [basedOn, setBasedOn] = useState(live.value!.sessionRevision);
  const { session: info, system, chart } = live.value!;
  // A chart says of which system it is.
  const hasChart = chart.name !== null;
  const submit = (event: SubmitEvent): void => {
    event.preventDefault();
    const data = new FormData(event.currentTarget as HTMLFormElement);
    const text = (name: string) => String(data.get(name) ?? '').trim();
    try {
      const ambient = typedNumber(text('ambient'));
      setError('');
      const codes = text('codes').split(/[\s,;]+/).filter((code) => code !== '');
      const system = SYSTEM_VOLTAGES.find((volts) => String(volts) === text('system')) ?? null;
      void request({ type: 'describe', basedOn, ...(hasChart ? {} : { systemVoltage: system }), title: text('title'), vehicle: text('vehicle'), complaint: text('complaint'), facts: text('facts'), codes, ambient }).then((isDone) => {
        setSaved(isDone);
        if (isDone) setBasedOn(basedOn + 1);
      });
    } catch (cause) {
      if (!(cause instanceof RangeError)) throw cause;
      setError(texts.check.badNumber);
    }
  };
  return (
    <form class="setting fields" onSubmit={submit} onInput={() => setSaved(false)}>
      <label>{t.name}<input name="title" maxLength={200} defaultValue={info.title} /></label>
      <label>{t.vehicle}<input name="vehicle" maxLength={200} defaultValue={info.vehicle} /></label>
      <label class="wide">{t.complaint}<textarea name="complaint" maxLength={2000} defaultValue={info.complaint} /></label>
      <label>{t.codes}<input name="codes" defaultValue={(info.codes ?? []).join(', ')} /></label>
      <label>{t.ambient}<input name="ambient" inputMode="decimal" defaultValue={info.ambient === null || info.ambient === undefined ? '' : String(info.ambient)} /></label>
      {!hasChart && (
        <label>{t.system}
          <select name="system" defaultValue={String(info.systemVoltage ?? '')}>
            <option value="">{t.systemFrom[system.from === 'said' ? 'assumed' : system.from](system.volts)}</option>
            {SYSTEM_VOLTAGES.map((volts) => <option key={volts} value={volts}>{volts} V</option>)}
          </select>
        </label>
      )}
      <label class="wide">{t.facts}<textarea name="facts" maxLength={4000} defaultValue={info.facts ?? ''} /></label>
      {error !== '' && <p class="form-error" role="alert">{error}</p>}
      <button type="submit">{t.save}</button> <span role="status">{isSaved ? t.saved : ''}</span>
    </form>
  );
}
