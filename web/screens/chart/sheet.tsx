/** A table that is typed like a spreadsheet: arrows and Enter move, pasting a block fills it, the last row is always empty. */
import { useLayoutEffect, useRef } from 'preact/hooks';
import type { ChartColumn } from '../../../server/session/chart-rows.ts';
import { addRow, pasteBlock, removeRow, setCell, SHEET_COLUMNS, type Draft, type DraftProblem, type RowKind } from '../../chart/draft.ts';
import { texts } from '../../texts.ts';

interface Props {
  readonly kind: RowKind;
  readonly draft: Draft;
  readonly problems: readonly DraftProblem[];
  /** Words that are offered in a column. */
  readonly offered: Partial<Record<ChartColumn, string>>;
  /** @param joins typing goes on in the cell that was changed last */
  readonly onChange: (draft: Draft, joins: boolean) => void;
}

const t = texts.chart;

export function Sheet({ kind, draft, problems, offered, onChange }: Props) {
  const table = useRef<HTMLTableElement>(null);
  const wanted = useRef<{ row: number; column: number } | null>(null);
  const typedIn = useRef('');
  const columns = SHEET_COLUMNS[kind];
  const rows = draft.filter((row) => row.kind === kind);

  const focusCell = (row: number, column: number): boolean => {
    const cell = table.current?.querySelector<HTMLInputElement>(`[data-cell="${row}:${column}"]`);
    cell?.focus();
    cell?.select();
    return cell !== null && cell !== undefined;
  };
  useLayoutEffect(() => {
    if (wanted.current === null) return;
    focusCell(wanted.current.row, wanted.current.column);
    wanted.current = null;
  });

  const type = (row: number, column: ChartColumn, text: string): void => {
    const at = `${row} ${column}`;
    const joins = typedIn.current === at;
    typedIn.current = at;
    const known = rows[row];
    onChange(known === undefined ? addRow(draft, kind, { [column]: text }) : setCell(draft, known.key, column, text), joins && known !== undefined);
  };
  const paste = (event: ClipboardEvent, row: number, column: number): void => {
    const text = event.clipboardData?.getData('text/plain') ?? '';
    if (!/[\t\n]/.test(text.replace(/\r?\n$/, ''))) return;
    event.preventDefault();
    typedIn.current = '';
    const block = text.replace(/\r?\n$/, '').split(/\r?\n/).map((line) => line.split('\t'));
    wanted.current = { row: row + block.length, column };
    onChange(pasteBlock(draft, kind, { row, column }, block), false);
  };
  const onKey = (event: KeyboardEvent, row: number, column: number): void => {
    const input = event.currentTarget as HTMLInputElement;
    const isAtStart = input.selectionStart === 0 && input.selectionEnd === 0;
    const isAtEnd = input.selectionStart === input.value.length;
    const isWhole = input.selectionStart === 0 && isAtEnd && input.value !== '';
    const steps: Record<string, readonly [number, number] | null> = {
      Enter: event.shiftKey ? [-1, 0] : [1, 0], ArrowUp: [-1, 0], ArrowDown: [1, 0],
      ArrowLeft: isAtStart || isWhole ? [0, -1] : null, ArrowRight: isAtEnd || isWhole ? [0, 1] : null,
    };
    if (event.key === 'Backspace' && (event.ctrlKey || event.metaKey) && rows[row] !== undefined) {
      event.preventDefault();
      remove(row);
      return;
    }
    const step = event.ctrlKey || event.altKey || event.metaKey ? null : steps[event.key];
    if (step !== null && step !== undefined && focusCell(row + step[0], column + step[1])) event.preventDefault();
  };
  const remove = (row: number): void => {
    typedIn.current = '';
    wanted.current = { row: Math.max(0, row - 1), column: 0 };
    onChange(removeRow(draft, rows[row]!.key), false);
  };

  return (
    <div class="sheet-scroll">
      <table class={`sheet is-${kind}`} ref={table}>
        <caption class="sr-only">{t.sheets[kind]}</caption>
        <thead><tr>{columns.map((column) => <th key={column} scope="col" class={`c-${column.split(/[\s-]/)[0]}`}>{t.columns[kind]?.[column] ?? t.column[column]}</th>)}<th scope="col"><span class="sr-only">{t.remove}</span></th></tr></thead>
        <tbody>
          {[...rows, null].map((known, row) => (
            <tr key={row}>
              {columns.map((column, i) => {
                const problem = known === null ? undefined : problems.find((one) => one.key === known.key && (one.column === column || (one.column === null && i === 0)));
                return (
                  <td key={column}>
                    <input data-cell={`${row}:${i}`} value={known?.cells[column] ?? ''} list={offered[column]} autocomplete="off" spellcheck={false}
                      aria-label={t.cell(t.columns[kind]?.[column] ?? t.column[column], row + 1)} aria-invalid={problem !== undefined} title={problem === undefined ? undefined : t.problem(problem.expected, problem.got)}
                      onInput={(e) => type(row, column, e.currentTarget.value)} onKeyDown={(e) => onKey(e, row, i)} onPaste={(e) => paste(e, row, i)} />
                  </td>
                );
              })}
              <td>{known !== null && <button type="button" class="remove" tabIndex={-1} aria-label={t.removeRow(row + 1)} onClick={() => remove(row)}>×</button>}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}
