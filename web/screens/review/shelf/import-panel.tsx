/** Bringing a table of readings in: the service guesses how it is written, the user corrects it and says how it is judged. */
import { useState } from 'preact/hooks';
import { type CsvPreview, DELIMITERS, type ImportPlan, type ImportReady, type PlanBeginning } from '../../../../server/live/library-protocol.ts';
import { Dialog } from '../../../parts/dialog.tsx';
import { texts } from '../../../texts.ts';
import { ImportColumns } from './import-columns.tsx';
import { importOptions, ImportJudging, JUDGING } from './import-judging.tsx';
import { addSession, previewAgain, startImport, upload } from './shelf-service.ts';

export function ImportPanel({ onClose }: { onClose: () => void }) {
  const t = texts.shelf;
  const [ready, setReady] = useState<ImportReady | null>(null);
  const [name, setName] = useState('');
  const choose = (file: File | undefined): void => {
    if (file === undefined) return;
    if (file.name.endsWith('.sqlite')) {
      onClose();
      void addSession(file);
      return;
    }
    setName(file.name);
    void upload(file).then((answer) => setReady(answer ?? null));
  };
  return (
    <Dialog title={t.bringIn} closeText={t.close} onClose={onClose}>
      <label class="setting">{t.chooseFile}<input type="file" accept=".csv,.txt,.tsv,text/csv,.sqlite" onChange={(event) => choose(event.currentTarget.files?.[0])} /></label>
      {ready !== null && <Correct key={ready.import} ready={ready} name={name} onClose={onClose} />}
    </Dialog>
  );
}

function Correct({ ready, name, onClose }: { ready: ImportReady; name: string; onClose: () => void }) {
  const t = texts.shelf;
  const [preview, setPreview] = useState<CsvPreview>(ready.preview);
  const [plan, setPlan] = useState<ImportPlan>(ready.preview.plan);
  const [judging, setJudging] = useState(JUDGING);
  const change = (part: Partial<ImportPlan>) => setPlan({ ...plan, ...part });
  const guessAgain = (beginning: PlanBeginning): void => {
    void previewAgain(ready.import, { delimiter: plan.delimiter, ...beginning }).then((answer) => {
      if (answer === undefined) return;
      setPreview(answer);
      setPlan(answer.plan);
    });
  };
  const start = (event: SubmitEvent): void => {
    event.preventDefault();
    onClose();
    void startImport(ready.import, t.importing, { plan, options: { title: name, ...importOptions(judging) } });
  };
  return (
    <form class="setting import" onSubmit={start}>
      {preview.doubts.length > 0 && <ul class="import-doubts">{preview.doubts.map((doubt) => <li key={doubt}>{doubt}</li>)}</ul>}
      <h3>{t.preview}</h3>
      <div class="import-rows" tabIndex={0} role="region" aria-label={t.preview}>
        <table>
          <thead><tr>{preview.heading.map((heading, index) => <th key={index} scope="col">{heading}</th>)}</tr></thead>
          <tbody>{preview.rows.slice(0, 6).map((row, r) => <tr key={r}>{row.map((cell, c) => <td key={c}>{cell}</td>)}</tr>)}</tbody>
        </table>
      </div>
      <div class="import-pairs">
        <label>{t.delimiter}
          <select value={plan.delimiter} onChange={(event) => guessAgain({ delimiter: event.currentTarget.value as ImportPlan['delimiter'] })}>
            {DELIMITERS.map((sign) => <option key={sign} value={sign}>{t.delimiters[sign]}</option>)}
          </select>
        </label>
        <label>{t.headingRows}
          <input type="number" min={0} max={1000} value={plan.headingRows} onChange={(event) => event.currentTarget.value !== '' && guessAgain({ headingRows: Number(event.currentTarget.value) })} />
        </label>
        <label>{t.decimal}
          <select value={plan.decimal} onChange={(event) => change({ decimal: event.currentTarget.value as ImportPlan['decimal'] })}>
            {(['point', 'comma'] as const).map((sign) => <option key={sign} value={sign}>{t.decimals[sign]}</option>)}
          </select>
        </label>
      </div>
      <ImportColumns heading={preview.heading} plan={plan} onChange={change} />
      <ImportJudging judging={judging} onChange={(part) => setJudging({ ...judging, ...part })} />
      <button type="submit" class="strong" disabled={plan.values.length === 0}>{t.import}</button>
    </form>
  );
}
