/** Accuracy by function and range, typed as the manual prints it: one row for all ranges that share their figures. */
import { FUNCTIONS, pastedRows, type AccuracyCell, type AccuracyRow, type FunctionName } from '../../meters/accuracy-rows.ts';
import { texts } from '../../texts.ts';

interface Props {
  readonly rows: readonly AccuracyRow[];
  /** The cell that can't be read; null when all can. */
  readonly problem: { readonly row: number; readonly cell: AccuracyCell } | null;
  readonly onChange: (rows: readonly AccuracyRow[]) => void;
}

const t = texts.profile;
const CELLS = ['ranges', 'percent', 'counts'] as const satisfies readonly AccuracyCell[];

export function AccuracyTable({ rows, problem, onChange }: Props) {
  const set = (row: number, change: Partial<AccuracyRow>): void => onChange(rows.map((one, i) => (i === row ? { ...one, ...change } : one)));
  const paste = (event: ClipboardEvent, row: number): void => {
    const pasted = pastedRows(event.clipboardData?.getData('text/plain') ?? '');
    if (pasted === null) return;
    event.preventDefault();
    onChange([...rows.slice(0, row), ...pasted, ...rows.slice(row + 1)]);
  };
  return (
    <fieldset class="wide accuracy-table">
      <legend>{t.byRange}</legend>
      <p class="hint">{t.byRangeWhy}</p>
      <ol>
        {rows.map((row, i) => (
          <li key={i}>
            <label class="cell-function">{t.function}
              <select value={row.name} onChange={(event) => set(i, { name: event.currentTarget.value as FunctionName })}>
                {FUNCTIONS.map((name) => <option key={name} value={name}>{t.functions[name]}</option>)}
              </select>
            </label>
            {CELLS.map((cell) => {
              const isWrong = problem?.row === i && problem.cell === cell;
              return (
                <label key={cell} class={`cell-${cell}`}>{t.cells[cell]}
                  <input value={row[cell]} inputMode={cell === 'ranges' ? 'text' : 'decimal'} placeholder={cell === 'ranges' ? t.everyRange : ''} autocomplete="off"
                    aria-invalid={isWrong} onInput={(event) => set(i, { [cell]: event.currentTarget.value })} onPaste={(event) => paste(event, i)} />
                </label>
              );
            })}
            <button type="button" class="quiet" aria-label={t.removeRow(i + 1)} onClick={() => onChange(rows.filter((_, at) => at !== i))}>×</button>
          </li>
        ))}
      </ol>
      <button type="button" onClick={() => onChange([...rows, { name: nextFunction(rows), ranges: '', percent: '', counts: '' }])}>{t.addRow}</button>
    </fieldset>
  );
}

/** The function after those that there are rows for. */
function nextFunction(rows: readonly AccuracyRow[]): FunctionName {
  return FUNCTIONS.find((name) => rows.every((row) => row.name !== name)) ?? 'v-dc';
}
