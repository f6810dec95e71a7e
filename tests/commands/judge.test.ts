import { spawnSync } from 'node:child_process';
import { join } from 'node:path';
import { tmpdir } from 'node:os';
import { describe, expect, it } from 'vitest';
import { quiet } from '../diagnosis/setup.ts';
import { file, judge, judgeJson, row, table } from './judge-run.ts';

const clean = (n: number, level = 12.1): string[] => quiet(level, n).map((v, i) => row(i, v.toFixed(2)));

describe('judge reads a take from a file', () => {
  it('prints a summary to read without --json', async () => {
    const rows = clean(300);
    rows[150] = row(150, '0.20');
    const { out } = await judge(file(table(rows)));
    expect(out.split('\n')[0]).toBe('INTERMITTENT');
    expect(out).toContain('Dropped out once in 30 s, down to 0.20 V from 12.10 V.');
  });

  it('passes a clean take inside its limits once the claim is met', async () => {
    const result = await judgeJson(table(clean(700)), '--low', '11', '--high', '13', '--accuracy', '0.5%+2');
    expect(result).toMatchObject({ verdict: 'pass', level_verdict: 'pass', dropouts: [], gaps: [] });
  });

  it('fails a level outside its limits by more than the uncertainty', async () => {
    expect(await judgeJson(table(clean(700)), '--low', '12.5', '--accuracy', '0.5%+2')).toMatchObject({ verdict: 'fail', level_verdict: 'fail' });
  });

  it('takes what is known of the meter from a file: the accuracy of the range in use', async () => {
    const profile = file(JSON.stringify({ profile: 'meter/1', displayCounts: 6000, interval: 0.1, ranges: [{ quantity: 'voltage', upTo: 60, fraction: 0.005, counts: 2 }, { quantity: 'voltage', upTo: 600, fraction: 0.3, counts: 2 }] }));
    expect(await judgeJson(table(clean(700)), '--low', '11', '--profile', profile)).toMatchObject({ verdict: 'pass', interval_s: 0.1 });
    expect(await judgeJson(table(clean(700)), '--low', '11', '--profile', profile, '--accuracy', '30%+2')).toMatchObject({ level_verdict: 'undecided' });
    const { code, err } = await judge(file(table(clean(20))), '--profile', file('{"profile":"meter/1","intervall":1}'));
    expect(code).toBe(2);
    expect(err).toContain('intervall');
  });

  it('takes a negative limit', async () => {
    expect(await judgeJson(table(clean(700, 0.05)), '--kind', 'ground', '--low', '-0.1', '--high', '0.2', '--accuracy', '0.5%+2')).toMatchObject({ level_verdict: 'pass' });
  });

  it('reads OL in the flag column and in the value column', async () => {
    const rows = quiet(0.4, 200, 1, 0.03, 0.1).map((v, i) => row(i, v.toFixed(1), 'Ohm'));
    rows[90] = row(90, '', 'Ohm', 'OL');
    rows[150] = row(150, 'OL', 'Ohm');
    const result = await judgeJson(table(rows));
    expect(result['dropouts']).toMatchObject([{ depth: null, over_range: true }, { depth: null, over_range: true }]);
  });

  it('converts SI prefixes: mV and V of one take are one quantity', async () => {
    const rows = clean(200).map((line, i) => (i % 2 === 0 ? line : row(i, '12100', 'mV')));
    const result = await judgeJson(table(rows));
    expect(result['level']).toBeCloseTo(12.1, 1);
    expect(result['dropouts']).toEqual([]);
    expect((await judgeJson(table(Array.from({ length: 60 }, (_, i) => row(i, (4.7 + (i % 2) * 0.01).toFixed(2), 'kOhm')))))['level']).toBeCloseTo(4705, 0);
  });

  it.each([
    ['a byte order mark', (text: string) => `\ufeff${text}`],
    ['carriage returns', (text: string) => text.replaceAll('\n', '\r\n')],
    ['semicolons and decimal commas', (text: string) => text.replaceAll(',', ';').replaceAll('.', ',')],
    ['tabs', (text: string) => text.replaceAll(',', '\t')],
    ['quoted fields', (text: string) => text.replaceAll('V', '"V"')],
    ['capital headings and spaces', (text: string) => text.replace('time,value,unit', ' Time , VALUE , Unit ')],
    ['no line end at the end', (text: string) => text.trimEnd()],
  ])('accepts %s', async (_name, change) => {
    expect(await judgeJson(change(table(clean(100))))).toMatchObject({ samples: 100, quantity: 'voltage' });
  });

  it('columns may stand in any order, beside others', async () => {
    expect(await judgeJson('unit,note,value,time\nV,a,12.1,0\nV,b,12.1,0.1\nV,c,12.1,0.2\n')).toMatchObject({ samples: 3 });
  });

  it('takes the finest step where trailing zeros were dropped', async () => {
    expect(await judgeJson(table(['12.1', '12.09', '12.11', '12.1', '12', '12.1', '12.08', '12.1', '12.09'].map((v, i) => row(i, v))))).toMatchObject({ resolution: 0.01 });
  });

  it('an empty value is a gap, never a dropout', async () => {
    const rows = clean(200);
    for (let i = 100; i < 110; i++) rows[i] = row(i, '');
    const result = await judgeJson(table(rows));
    expect(result['dropouts']).toEqual([]);
    expect(result['gaps']).toHaveLength(1);
  });

  it('re-spaces readings that came in bursts', async () => {
    const rows = quiet(12.1, 200).map((v, i) => `${((Math.floor(i / 10) + 1) + (i % 10) * 0.0001).toFixed(4)},${v.toFixed(2)},V,`);
    const result = await judgeJson(table(rows));
    expect(result['interval_s']).toBeCloseTo(0.1, 3);
    expect(result['gaps']).toEqual([]);
  });
});

describe('judge refuses what it can’t use, with exit code 2 and the line', () => {
  it.each([
    ['an empty file', '', 'the file is empty'],
    ['a heading only', 'time,value,unit\n', 'no readings'],
    ['a missing column', 'time,value\n0,1\n', 'line 1: the heading lacks "unit"'],
    ['a time that is no number', 'time,value,unit\n0,1,V\nsoon,1,V\n', 'line 3: time is "soon"'],
    ['a value that is no number', 'time,value,unit\n0,1,V\n0.1,abc,V\n', 'line 3: value is "abc"'],
    ['an unknown unit', 'time,value,unit\n0,1,furlong\n', 'line 2: unit is "furlong"'],
    ['a missing unit', 'time,value,unit\n0,1,\n', 'line 2: the unit is missing'],
    ['mixed quantities', 'time,value,unit\n0,1,V\n0.1,1,A\n', 'line 3: the unit changes from V to A'],
    ['a time that falls', 'time,value,unit\n0,1,V\n0.1,1,V\n0.2,1,V\n0.1,1,V\n0.3,1,V\n', 'line 5: time 0.1 does not come after 0.2'],
    ['a time that stands still', 'time,value,unit\n0,1,V\n0.1,1,V\n0.2,1,V\n0.2,1,V\n0.3,1,V\n', 'line 5: time 0.2 does not come after 0.2'],
    ['an unknown flag', 'time,value,unit,flag\n0,1,V,odd\n', 'line 2: flag is "odd"'],
    ['no table at all', 'MZ\u0001\u0002\u0000"\u0003\n', "line 1: the text can't be read as a table (Invalid Opening Quote"],
    ['an unclosed quote', 'time,value,unit\n0,"1,V\n', "can't be read as a table"],
  ])('%s', async (_name, text, message) => {
    const { code, out, err } = await judge(file(text), '--json');
    expect(code).toBe(2);
    expect(out).toBe('');
    expect(err).toContain(message);
  });

  it('a file that is not there', async () => {
    const nowhere = join(tmpdir(), 'loomtrace-nowhere.csv');
    expect(await judge(nowhere)).toMatchObject({ code: 2, err: `judge: there is no file or folder ${nowhere}\n` });
  });

  it('a check that needs another quantity', async () => {
    expect(await judge(file(table(clean(10))), '--kind', 'continuity')).toMatchObject({ code: 2 });
  });

  it.each([
    [['--kind', 'fuzz'], '--kind is one of supply'], [['--take', 'walk'], '--take is one of spot'], [['--low', 'x'], '--low is a number'],
    [['--low', '5', '--high', '4'], '--low 5 is above --high 4'], [['--accuracy', 'good'], "--accuracy is written like '0.5%+2'"],
    [['--interval', '0'], '--interval is above 0'], [['--colour', 'red'], 'there is no option --colour; there are --kind, '],
  ])('options %j', async (options, message) => {
    const { code, err } = await judge(file(table(clean(10))), ...options);
    expect(code).toBe(2);
    expect(err).toContain(message);
  });

  it('no file at all', async () => {
    expect((await judge('--json')).code).toBe(2);
  });
});

it('runs from the command line as it does from here', () => {
  const path = file(table(clean(100)));
  const { status, stdout } = spawnSync('npm', ['run', '--silent', 'loomtrace', '--', 'judge', path, '--json'], { encoding: 'utf8' });
  expect(status).toBe(0);
  expect(JSON.parse(stdout)).toMatchObject({ schema: 'judge/1', samples: 100 });
  expect(spawnSync('npm', ['run', '--silent', 'loomtrace', '--', 'judge', file('')], { encoding: 'utf8' }).status).toBe(2);
});
