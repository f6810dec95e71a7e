/** Bringing a table of readings in: the service guesses how it is written, the user corrects it. */
import { useState } from 'preact/hooks';
import { CHECK_KINDS, type CheckKind } from '../../../../server/diagnosis/judgement.ts';
import { TIME_FORMATS, type ImportPlan, type ImportReady } from '../../../../server/live/library-protocol.ts';
import { typedNumber } from '../../../check-words.ts';
import { Dialog } from '../../../parts/dialog.tsx';
import { texts } from '../../../texts.ts';
import { startImport, upload } from './shelf-service.ts';

export function ImportPanel({ onClose }: { onClose: () => void }) {
  const t = texts.shelf;
  const [ready, setReady] = useState<ImportReady | null>(null);
  const [name, setName] = useState('');
  const choose = (file: File | undefined): void => {
    if (file === undefined) return;
    setName(file.name);
    void upload(file).then((answer) => setReady(answer ?? null));
  };
  return (
    <Dialog title={t.bringIn} closeText={t.close} onClose={onClose}>
      <label class="setting">{t.chooseFile}<input type="file" accept=".csv,.txt,.tsv,text/csv" onChange={(event) => choose(event.currentTarget.files?.[0])} /></label>
      {ready !== null && <Correct key={ready.import} ready={ready} name={name} onClose={onClose} />}
    </Dialog>
  );
}

function Correct({ ready, name, onClose }: { ready: ImportReady; name: string; onClose: () => void }) {
  const t = texts.shelf;
  const { preview } = ready;
  const [plan, setPlan] = useState<ImportPlan>(preview.plan);
  const [kind, setKind] = useState<CheckKind | ''>('');
  const columns = preview.heading.map((heading, index) => ({ heading, index }));
  const change = (part: Partial<ImportPlan>) => setPlan({ ...plan, ...part });
  const toggle = (column: number, isOn: boolean) => change({
    values: isOn ? [...plan.values, { column, unit: '', label: preview.heading[column] ?? '' }] : plan.values.filter((value) => value.column !== column),
  });
  const start = (event: SubmitEvent): void => {
    event.preventDefault();
    onClose();
    void startImport(ready.import, t.importing, { plan, options: { title: name, ...(kind === '' ? {} : { kind }) } });
  };
  return (
    <form class="setting import" onSubmit={start}>
      {preview.doubts.length > 0 && <ul class="import-doubts">{preview.doubts.map((doubt) => <li key={doubt}>{doubt}</li>)}</ul>}
      <h3>{t.preview}</h3>
      <div class="import-rows" tabIndex={0} role="region" aria-label={t.preview}>
        <table>
          <thead><tr>{columns.map(({ heading, index }) => <th key={index} scope="col">{heading}</th>)}</tr></thead>
          <tbody>{preview.rows.slice(0, 6).map((row, r) => <tr key={r}>{row.map((cell, c) => <td key={c}>{cell}</td>)}</tr>)}</tbody>
        </table>
      </div>
      <label>{t.time}
        <select value={plan.time?.column ?? ''} onChange={({ currentTarget: { value } }) => change({ time: value === '' ? null : { format: plan.time?.format ?? 's', dateColumn: null, column: Number(value) } })}>
          <option value="">{t.noTime}</option>
          {columns.map(({ heading, index }) => <option key={index} value={index}>{heading}</option>)}
        </select>
      </label>
      {plan.time === null
        ? <label>{t.interval}<input inputMode="decimal" required onInput={(event) => change({ interval: numberOrNull(event.currentTarget.value) })} /></label>
        : (
          <label>{t.timeFormat}
            <select value={plan.time.format} onChange={(event) => change({ time: { ...plan.time!, format: event.currentTarget.value as (typeof TIME_FORMATS)[number] } })}>
              {TIME_FORMATS.map((format) => <option key={format} value={format}>{t.timeFormats[format]}</option>)}
            </select>
          </label>
        )}
      <label>{t.decimal}
        <select value={plan.decimal} onChange={(event) => change({ decimal: event.currentTarget.value as ImportPlan['decimal'] })}>
          {(['point', 'comma'] as const).map((sign) => <option key={sign} value={sign}>{t.decimals[sign]}</option>)}
        </select>
      </label>
      <fieldset class="import-values">
        <legend>{t.values}</legend>
        {columns.filter(({ index }) => index !== plan.time?.column).map(({ heading, index }) => {
          const value = plan.values.find(({ column }) => column === index);
          return (
            <div key={index}>
              <label class="switch"><input type="checkbox" checked={value !== undefined} onChange={(event) => toggle(index, event.currentTarget.checked)} /> {heading}</label>
              {value !== undefined && (
                <input
                  aria-label={t.unit(heading)} placeholder="V" value={value.unit} maxLength={20}
                  onInput={(event) => change({ values: plan.values.map((one) => (one === value ? { ...one, unit: event.currentTarget.value } : one)) })}
                />
              )}
            </div>
          );
        })}
      </fieldset>
      <label>{texts.check.kind}
        <select value={kind} onChange={(event) => setKind(event.currentTarget.value as CheckKind | '')}>
          <option value="">–</option>
          {CHECK_KINDS.map((one) => <option key={one} value={one}>{texts.check.kinds[one]}</option>)}
        </select>
      </label>
      <button type="submit" class="strong" disabled={plan.values.length === 0}>{t.import}</button>
    </form>
  );
}

function numberOrNull(text: string): number | null {
  try {
    return typedNumber(text);
  } catch {
    return null;
  }
}
