/** The harness as a table that is fast to type and as a drawing that follows it. Checks, zones and limits come from it. */
import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import { EXPOSURES, POINT_KINDS, type Chart } from '../../../server/session/chart.ts';
import { SYSTEM_VOLTAGES } from '../../../server/session/limits.ts';
import type { ChartColumn } from '../../../server/session/chart-rows.ts';
import { begin, change, draftOfChart, draftOfTable, readDraft, redo, setCell, strangeBattery, tableOfDraft, undo, type Draft, type History, type RowKind } from '../../chart/draft.ts';
import { tableOfText, textOfTable } from '../../chart/table-text.ts';
import { Choice } from '../../parts/choice.tsx';
import { Control } from '../../parts/control.tsx';
import { ask, RequestFailed } from '../../live/index.ts';
import { faultSearch, live, notice } from '../../state.ts';
import { texts } from '../../texts.ts';
import { mayControl } from '../sharing/index.ts';
import { Diagram } from './diagram.tsx';
import { KblImport } from './kbl-import.tsx';
import { ChanceLegend } from './diagram-search.tsx';
import { DistancePanel } from './search/distance-form.tsx';
import { SearchDetails } from './search/search-details.tsx';
import { SearchHead } from './search/search-head.tsx';
import { Sheet } from './sheet.tsx';

const t = texts.chart;
const SYSTEMS = SYSTEM_VOLTAGES.map(String);
const SHEETS = ['span', 'component', 'point', 'panel', 'circuit'] as const satisfies readonly RowKind[];
const LISTS = { points: 'chart-points', kinds: 'chart-kinds', parts: 'chart-part-kinds', exposures: 'chart-exposures', panels: 'chart-panels' };

/** The draft outlives the screen: whoever looks at the trace for a moment loses nothing. */
let kept: { readonly revision: number; readonly history: History } | null = null;

export function ChartScreen() {
  const revision = live.value?.chart.revision ?? null;
  const [sheet, setSheet] = useState<(typeof SHEETS)[number]>('span');
  const [loaded, setLoaded] = useState(kept);
  const update = (next: NonNullable<typeof kept>): void => {
    kept = next;
    setLoaded(next);
  };
  const load = async (): Promise<void> => {
    const before = kept;
    const { revision: read, chart } = (await ask({ type: 'read-chart' })) as { revision: number; chart: Chart | null };
    // What was typed while the answer was on its way stays.
    if (kept === before) update({ revision: read, history: begin(draftOfChart(chart)) });
  };
  const isChanged = loaded !== null && loaded.history.past.length > 0;
  useEffect(() => {
    // Somebody else's chart is taken over unless something of one's own would be lost.
    if (revision !== null && (loaded === null || (loaded.revision !== revision && !isChanged))) void load().catch(tell);
  }, [revision, loaded?.revision]);

  // Whoever looks here wants to know where the fault is, also before anything was read.
  useEffect(() => {
    if (revision !== null) void ask({ type: 'locate' }).catch(tell);
  }, [revision]);

  if (loaded === null || revision === null) return <div class="chart"><h1>{t.title}</h1><p class="empty">{texts.review.loading}</p></div>;
  const { history } = loaded;
  // From what is kept, not from what was drawn last: keys that follow each other faster than the screen is drawn count too.
  const step = (next: (history: History) => History, basedOn = kept!.revision): void => update({ revision: basedOn, history: next(kept!.history) });
  const isStale = loaded.revision !== revision && isChanged;
  return (
    <ChartEditor sheet={sheet} onSheet={setSheet} history={history} isChanged={isChanged} isStale={isStale}
      onChange={(draft, joins) => step((history) => change(history, draft, joins))} onStep={step} onReload={() => void load().catch(tell)}
      onUse={async (chart) => {
        try {
          const { revision: next } = (await ask({ type: 'change-chart', basedOn: loaded.revision, chart })) as { revision: number };
          step((now) => change(begin(history.now), now.now), next);
          notice.value = { kind: 'done', text: t.used };
        } catch (error) {
          tell(error);
        }
      }} />
  );
}

function tell(error: unknown): void {
  if (!(error instanceof RequestFailed)) throw error;
  notice.value = { kind: 'trouble', text: error.message };
}

interface EditorProps {
  readonly sheet: (typeof SHEETS)[number];
  readonly onSheet: (sheet: (typeof SHEETS)[number]) => void;
  readonly history: History;
  readonly isChanged: boolean;
  readonly isStale: boolean;
  readonly onChange: (draft: Draft, joins?: boolean) => void;
  readonly onStep: (step: (history: History) => History) => void;
  readonly onReload: () => void;
  readonly onUse: (chart: Chart) => Promise<void>;
}

function ChartEditor({ sheet, onSheet, history, isChanged, isStale, onChange, onStep, onReload, onUse }: EditorProps) {
  const draft = history.now;
  const read = useMemo(() => readDraft(draft), [draft]);
  // The drawing keeps the last chart that made sense while a row is half typed.
  const drawn = useRef<Chart | null>(null);
  if (read.kind === 'chart') drawn.current = read.chart;
  const problems = read.kind === 'problems' ? read.problems : [];
  const oddBattery = read.kind === 'chart' ? strangeBattery(read.chart) : null;
  const root = useRef<HTMLDivElement>(null);
  const found = faultSearch.value?.result ?? null;
  useEffect(() => {
    // On the whole window: taking a row back may take the focused cell with it.
    const onKey = (event: KeyboardEvent): void => {
      const key = event.key.toLowerCase();
      if (!(event.ctrlKey || event.metaKey) || (key !== 'z' && key !== 'y')) return;
      event.preventDefault();
      onStep(key === 'y' || event.shiftKey ? redo : undo);
    };
    addEventListener('keydown', onKey);
    return () => removeEventListener('keydown', onKey);
  }, []);
  const goToSpan = (id: string): void => {
    onSheet('span');
    const row = draft.filter(({ kind }) => kind === 'span').findIndex(({ cells }) => (cells.id ?? `${cells.from} to ${cells.to}`) === id);
    requestAnimationFrame(() => root.current?.querySelector<HTMLInputElement>(`[data-cell="${row}:0"]`)?.focus());
  };
  const offered: Partial<Record<ChartColumn, string>> = sheet === 'component'
    ? { from: LISTS.points, to: LISTS.points, kind: LISTS.parts }
    : { from: LISTS.points, to: LISTS.points, kind: LISTS.kinds, panel: LISTS.panels, exposures: LISTS.exposures };
  return (
    <div class="chart" ref={root}>
      <Head draft={draft} onChange={onChange} />
      {isStale && <div class="alert is-abnormal"><p>{t.stale}</p><button type="button" onClick={onReload}>{t.takeTheirs}</button></div>}
      <Control><SearchHead /></Control>
      {drawn.current !== null && <Diagram chart={drawn.current} search={found} onSpan={goToSpan} />}
      {found !== null && <ChanceLegend hasPlace={found.located.distance !== null && found.located.distance.place !== null} hasNext={found.located.next.length > 0} />}
      <Control>
        <SearchDetails />
        {drawn.current !== null && <DistancePanel chart={drawn.current} />}
      </Control>
      <h2 class="chart-sheet-title">{t.sheetTitle}</h2>
      <div class="chart-bar">
        <Choice name="sheet" label={t.sheet} options={SHEETS} value={sheet} text={(name) => t.sheets[name]} onChoose={onSheet} />
        <div class="chart-buttons">
          <button type="button" disabled={history.past.length === 0} onClick={() => onStep(undo)}>{t.undo}</button>
          <button type="button" disabled={history.future.length === 0} onClick={() => onStep(redo)}>{t.redo}</button>
          <KblImport draft={draft} onDraft={onChange} />
          <ImportButton onTable={(table) => onChange(draftOfTable(table))} />
          <button type="button" onClick={() => download(tableOfDraft(draft))}>{t.exportCsv}</button>
          <button type="button" class="strong" disabled={read.kind !== 'chart' || !isChanged || isStale || !mayControl.value} onClick={() => read.kind === 'chart' && void onUse(read.chart)}>{t.use}</button>
        </div>
      </div>
      <p class="chart-problems" role="status">
        {problems.length === 0 ? (isChanged ? t.readyToUse : t.allUsed) : `${t.problems(problems.length)} ${problemWords(problems[0]!.path, problems[0]!.expected, problems[0]!.got)}`}
      </p>
      {read.kind === 'chart' && oddBattery !== null && <p class="chart-problems" role="status">{t.oddBattery(oddBattery, read.chart.systemVoltage)}</p>}
      <Sheet key={sheet} kind={sheet} draft={draft} problems={problems} offered={offered} onChange={onChange} />
      <p class="hint">{t.help}</p>
      <Offers draft={draft} />
    </div>
  );
}

function problemWords(path: string, expected: string, got: string): string {
  return `${path === '' ? '' : `${path}: `}${t.problem(expected, got)}`;
}

/** Name and voltage of the whole. */
function Head({ draft, onChange }: { draft: Draft; onChange: (draft: Draft, joins?: boolean) => void }) {
  const chart = draft.find(({ kind }) => kind === 'chart')!;
  // Typing the name is one step, from the first letter on.
  const isTyping = useRef(false);
  const typeName = (name: string): void => {
    onChange(setCell(draft, chart.key, 'name', name), isTyping.current);
    isTyping.current = true;
  };
  return (
    <div class="chart-head">
      <h1>{t.title}</h1>
      <label>{t.name}<input value={chart.cells.name ?? ''} onFocus={() => (isTyping.current = false)} onInput={(e) => typeName(e.currentTarget.value)} /></label>
      <Choice name="system" label={t.system} options={SYSTEMS} value={SYSTEMS.find((volts) => volts === chart.cells.volts) ?? '12'} text={(volts) => `${volts} V`}
        onChoose={(volts) => onChange(setCell(draft, chart.key, 'volts', volts))} />
    </div>
  );
}

/** Words that the cells offer while they are typed. */
function Offers({ draft }: { draft: Draft }) {
  const points = [...new Set(draft.flatMap(({ kind, cells }) => (kind === 'point' ? [cells.id] : kind === 'span' || kind === 'component' ? [cells.from, cells.to] : [])))];
  const list = (id: string, words: readonly (string | undefined)[]) => (
    <datalist id={id}>{words.filter((word) => word !== undefined && word !== '').map((word) => <option key={word} value={word} />)}</datalist>
  );
  return (
    <>
      {list(LISTS.points, points)}
      {list(LISTS.kinds, POINT_KINDS)}
      {list(LISTS.parts, ['battery', 'fuse', 'contact', 'load'])}
      {list(LISTS.exposures, EXPOSURES)}
      {list(LISTS.panels, draft.filter(({ kind }) => kind === 'panel').map(({ cells }) => cells.id))}
    </>
  );
}

function ImportButton({ onTable }: { onTable: (table: string[][]) => void }) {
  const input = useRef<HTMLInputElement>(null);
  const read = async (file: File | undefined): Promise<void> => {
    if (file === undefined) return;
    const read = tableOfText(await file.text());
    if (read.kind === 'table') onTable(read.table);
    else notice.value = { kind: 'trouble', text: t.notCsv(read.problems.map(({ got }) => got).join(' ')) };
  };
  return (
    <>
      <button type="button" onClick={() => input.current?.click()}>{t.importCsv}</button>
      <input ref={input} type="file" accept=".csv,.tsv,.txt,text/csv" hidden aria-label={t.importCsv} onChange={(e) => void read(e.currentTarget.files?.[0])} />
    </>
  );
}

function download(table: readonly (readonly string[])[]): void {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(new Blob([textOfTable(table)], { type: 'text/csv' }));
  link.download = 'chart.csv';
  link.click();
  URL.revokeObjectURL(link.href);
}
