import { describe, expect, it } from 'vitest';
import { alder7Chart } from '../../server/demo/index.ts';
import { begin, change, draftOfChart, draftOfTable, emptyDraft, pasteBlock, readDraft, redo, removeRow, setCell, strangeBattery, tableOfDraft, undo } from '../../web/chart/draft.ts';
import { layoutChart } from '../../web/chart/layout.ts';

const spanRows = (draft: ReturnType<typeof emptyDraft>) => draft.filter(({ kind }) => kind === 'span');

describe('a chart as it is typed', () => {
  it('is the same chart when nothing is changed', () => {
    expect(readDraft(draftOfChart(alder7Chart))).toEqual({ kind: 'chart', chart: alder7Chart });
    expect(readDraft(draftOfTable(tableOfDraft(draftOfChart(alder7Chart))))).toEqual({ kind: 'chart', chart: alder7Chart });
  });

  it('needs only wires and a load to make a chart of nothing, and a circuit without parts has all of them', () => {
    let draft = pasteBlock(emptyDraft(), 'span', { row: 0, column: 0 }, [['B+', 'F1/1', '0,5', '2.5', 'RD'], ['F1/2', 'M+', '2', 'AWG 14', 'rdye'], ['M-', 'B-', '1', '2.5', 'BK']]);
    draft = pasteBlock(draft, 'component', { row: 1, column: 0 }, [['fuse', 'F1', '', 'F1/1', 'F1/2'], ['load', 'M', 'pump', 'M+', 'M-', '4']]);
    draft = pasteBlock(draft, 'circuit', { row: 0, column: 0 }, [['pump', 'Pump', 'switch on']]);
    const read = readDraft(draft);
    if (read.kind !== 'chart') throw new Error(JSON.stringify(read.problems));
    expect(read.chart.spans.map(({ length, colour }) => [length, colour])).toEqual([[0.5, 'RD'], [2, 'RDYE'], [1, 'BK']]);
    // 14 AWG: 2.08 mm2 (ASTM B258, d = 0.127 mm 92^((36-n)/39)).
    expect(read.chart.spans[1]!.crossSection).toBeCloseTo(2.08, 2);
    expect(read.chart.points.find(({ id }) => id === 'F1/1')!.kind).toBe('blade');
    expect(read.chart.circuits[0]!.parts).toHaveLength(6);
  });

  it('notices a battery that is not of the system', () => {
    expect(strangeBattery(alder7Chart)).toBe(null);
    expect(strangeBattery({ ...alder7Chart, systemVoltage: 48 })).toBe(12.5);
    expect(strangeBattery({ ...alder7Chart, systemVoltage: 24 })).toBe(12.5);
    // One that is not said is a rested one of the system.
    const own = pasteBlock(emptyDraft(), 'span', { row: 0, column: 0 }, [['B+', 'M+', '1', '2.5', 'RD'], ['M-', 'B-', '1', '2.5', 'BK']]);
    const load = pasteBlock(own, 'component', { row: 1, column: 0 }, [['load', 'M', 'pump', 'M+', 'M-', '4']]);
    const read = readDraft(setCell(load, load.find(({ kind }) => kind === 'chart')!.key, 'volts', '24'));
    if (read.kind !== 'chart') throw new Error(JSON.stringify(read.problems));
    expect(read.chart.components.find(({ kind }) => kind === 'battery')).toMatchObject({ volts: 25.2 });
    expect(strangeBattery(read.chart)).toBe(null);
  });

  it('says which cell is wrong, whoever finds it', () => {
    const draft = draftOfChart(alder7Chart);
    const span = spanRows(draft)[2]!;
    const wrong = (column: Parameters<typeof setCell>[2], text: string) => {
      const read = readDraft(setCell(draft, span.key, column, text));
      return read.kind === 'chart' ? null : read.problems.map(({ key, column: at }) => ({ isSpan: key === span.key, at }));
    };
    expect(wrong('length m', 'long')).toEqual([{ isSpan: true, at: 'length m' }]);
    expect(wrong('colour', 'XX')).toEqual([{ isSpan: true, at: 'colour' }]);
    expect(wrong('length m', '-1')).toEqual([{ isSpan: true, at: 'length m' }]);
    expect(wrong('length m', '2,4')).toBe(null);
  });

  it('takes a pasted block into the cells from the one pointed at, and adds rows', () => {
    const draft = pasteBlock(draftOfChart(alder7Chart), 'span', { row: 11, column: 5 }, [['a', 'flex'], ['b', 'damp', 'too far right']]);
    expect(spanRows(draft)).toHaveLength(13);
    expect(spanRows(draft)[11]!.cells).toMatchObject({ from: 'G2', route: 'a', exposures: 'flex' });
    expect(spanRows(draft)[12]!.cells).toEqual({ route: 'b', exposures: 'damp' });
  });

  it('takes back and does again, typing in one cell as one step', () => {
    const first = draftOfChart(alder7Chart);
    const key = spanRows(first)[0]!.key;
    let history = begin(first);
    history = change(history, setCell(history.now, key, 'route', 'a'));
    history = change(history, setCell(history.now, key, 'route', 'ab'), true);
    history = change(history, removeRow(history.now, key));
    history = undo(history);
    expect(spanRows(history.now)[0]!.cells.route).toBe('ab');
    history = undo(history);
    expect(history.now).toBe(first);
    expect(undo(history)).toEqual(history);
    expect(spanRows(redo(redo(history)).now)).toHaveLength(11);
  });
});

describe('layoutChart(chart)', () => {
  const layout = layoutChart(alder7Chart);

  it('leads every wire and component to the right', () => {
    for (const { id, from, to } of layout.links) expect(to.column, id).toBeGreaterThan(from.column);
    expect(layout.links).toHaveLength(alder7Chart.spans.length + alder7Chart.components.length - 1);
  });

  it('puts no two points in one place, the posts at the two ends', () => {
    expect(new Set(layout.points.map(({ column, row }) => `${column} ${row}`)).size).toBe(alder7Chart.points.length);
    const column = (id: string) => layout.points.find(({ point }) => point.id === id)!.column;
    expect(column('B+')).toBe(0);
    expect(column('B-')).toBe(layout.columns - 1);
  });

  it('ends also for a chart that goes in a circle', () => {
    const ring = { ...alder7Chart, spans: [...alder7Chart.spans, { ...alder7Chart.spans[0]!, id: 'back', from: 'B-', to: 'B+' }] };
    expect(layoutChart(ring).points).toHaveLength(alder7Chart.points.length);
  });
});
