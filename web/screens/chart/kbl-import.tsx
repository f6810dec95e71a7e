/** A harness file (KBL) brought into the chart: read in this browser, shown before anything is taken, with what could not be taken. */
import { useRef, useState } from 'preact/hooks';
import type { HarnessParts } from '../../../server/session/chart-kbl.ts';
import { rowsOfChart } from '../../../server/session/chart-rows.ts';
import { draftOfTable, emptyDraft, type Draft } from '../../chart/draft.ts';
import { Dialog } from '../../parts/dialog.tsx';
import { notice } from '../../state.ts';
import { texts } from '../../texts.ts';

const t = texts.kbl;
/** Rows that the preview shows. */
const SHOWN = 12;

interface Read { readonly file: string; readonly harness: HarnessParts }

/** @param onDraft  the draft with the harness in it */
export function KblImport({ draft, onDraft }: { draft: Draft; onDraft: (draft: Draft) => void }) {
  const input = useRef<HTMLInputElement>(null);
  const [read, setRead] = useState<Read | null>(null);
  const open = async (file: File | undefined): Promise<void> => {
    if (file === undefined) return;
    // Only who opens such a file loads what reads it.
    const { harnessFromKbl } = await import('../../../server/session/chart-kbl.ts');
    const outcome = harnessFromKbl(await file.text());
    if (outcome.kind === 'unreadable') notice.value = { kind: 'trouble', text: t.unreadable(file.name, outcome.reason) };
    else setRead({ file: file.name, harness: outcome.harness });
    input.current!.value = '';
  };
  const take = (into: Draft): void => {
    onDraft([...into, ...rowsOf(read!.harness)]);
    setRead(null);
  };
  return (
    <>
      <button type="button" onClick={() => input.current?.click()}>{t.open}</button>
      <input ref={input} type="file" accept=".kbl,.xml,application/xml,text/xml" hidden aria-label={t.open} onChange={(e) => void open(e.currentTarget.files?.[0])} />
      {read !== null && (
        <Dialog title={t.title(read.file)} closeText={texts.settings.close} onClose={() => setRead(null)}>
          <Preview harness={read.harness} />
          <section class="setting">
            <p class="hint">{t.missing}</p>
            <div class="chart-buttons">
              <button type="button" class="strong" disabled={read.harness.spans.length === 0} onClick={() => take(draft)}>{t.add}</button>
              <button type="button" disabled={read.harness.spans.length === 0} onClick={() => take(emptyDraft())}>{t.replace}</button>
            </div>
          </section>
        </Dialog>
      )}
    </>
  );
}

function Preview({ harness: { spans, points, notes } }: { harness: HarnessParts }) {
  return (
    <section class="setting">
      <p><b>{t.found(spans.length, points.length)}</b></p>
      {notes.length > 0 && (
        <div role="alert">
          <p>{t.notes(notes.length)}</p>
          <ul class="import-doubts">{notes.map((note) => <li key={note}>{note}</li>)}</ul>
        </div>
      )}
      {spans.length > 0 && (
        <div class="import-rows" tabIndex={0} role="region" aria-label={t.preview}>
          <table>
            <thead><tr>{[t.wire, texts.chart.column.from, texts.chart.column.to, texts.chart.column['length m'], t.crossSection, texts.chart.column.colour].map((name) => <th key={name} scope="col">{name}</th>)}</tr></thead>
            <tbody>
              {spans.slice(0, SHOWN).map((span) => (
                <tr key={span.id}><td>{span.id}</td><td>{span.from}</td><td>{span.to}</td><td>{span.length}</td><td>{span.crossSection}</td><td>{span.colour}</td></tr>
              ))}
            </tbody>
          </table>
          {spans.length > SHOWN && <p class="hint">{t.more(spans.length - SHOWN)}</p>}
        </div>
      )}
    </section>
  );
}

/** The parts as rows of the table. */
function rowsOf({ spans, points }: HarnessParts): Draft {
  const table = rowsOfChart({ name: '', systemVoltage: 12, points, spans, panels: [], components: [], circuits: [] });
  return draftOfTable(table).filter(({ kind }) => kind === 'span' || kind === 'point');
}
