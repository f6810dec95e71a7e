import { describe, expect, it } from 'vitest';
import { alder7Chart } from '../../server/demo/index.ts';
import { COLOURS, colourWords } from '../../server/session/chart.ts';
import { problemText, readChart } from '../../server/session/chart-validation.ts';

const changed = (change: (chart: Record<string, any>) => void): string[] => { // eslint-disable-line @typescript-eslint/no-explicit-any
  const chart = structuredClone(alder7Chart) as Record<string, any>; // eslint-disable-line @typescript-eslint/no-explicit-any
  change(chart);
  const read = readChart(chart);
  return read.kind === 'problems' ? read.problems.map(problemText) : [];
};

describe('readChart(input)', () => {
  it('gives back a good chart as it was', () => {
    expect(readChart(JSON.parse(JSON.stringify(alder7Chart)))).toEqual({ kind: 'chart', chart: alder7Chart });
  });

  it.each<[string, (chart: Record<string, any>) => void, RegExp]>([ // eslint-disable-line @typescript-eslint/no-explicit-any
    ['a length below zero', (chart) => { chart['spans'][2].length = -1; }, /^spans\[2\]\.length: expected number to be >=0, got -1$/],
    ['a chart without circuits', (chart) => { delete chart['circuits']; }, /^circuits: expected array, got nothing$/],
    ['a span to a point that is not there', (chart) => { chart['spans'][0].to = 'Z9'; }, /^spans\[0\]\.to: expected the id of a point, got "Z9"$/],
    ['a colour that IEC 60757 does not know', (chart) => { chart['spans'][0].colour = 'XX'; }, /^spans\[0\]\.colour: expected letter codes of IEC 60757/],
    ['two points of one name', (chart) => { chart['points'][1].id = 'B+'; }, /^points\[1\]\.id: expected an id used once, got "B\+"$/],
    ['no battery', (chart) => { chart['components'].shift(); }, /^components: expected one battery, got "0 batteries"$/],
    ['a pin without a connector', (chart) => { delete chart['points'][6].connector; }, /^points\[6\]\.connector: expected the connector that the pin belongs to, got nothing$/],
    ['a circuit of a part that is not there', (chart) => { chart['circuits'][0].parts.push('gone'); }, /^circuits\[0\]\.parts\[17\]: expected the id of a span or component, got "gone"$/],
    ['a panel that is not there', (chart) => { chart['points'][0].panel = 'roof'; }, /^points\[0\]\.panel: expected the id of a panel, got "roof"$/],
  ])('names the place, what was expected and what came, for %s', (_, change, text) => {
    expect(changed(change)).toEqual(expect.arrayContaining([expect.stringMatching(text)]));
  });

  it.each([null, 7, 'chart', [], {}])('finds problems in %j and does not throw', (input) => {
    expect(readChart(input).kind).toBe('problems');
  });
});

describe('colourWords(code)', () => {
  it('knows the letters of IEC 60757 (IEC 757-83, table, read as GOST 28763-90)', () => {
    expect(COLOURS).toEqual({
      BK: 'black', BN: 'brown', RD: 'red', OG: 'orange', YE: 'yellow', GN: 'green', BU: 'blue', VT: 'violet', GY: 'grey', WH: 'white', PK: 'pink', GD: 'gold', TQ: 'turquoise', SR: 'silver',
    });
    expect(colourWords('RDBU')).toBe('red-blue');
    expect(colourWords('GNYE')).toBe('green-yellow');
  });

  it('gives null for other letters and nothing for nothing', () => {
    expect(colourWords('RB')).toBeNull();
    expect(colourWords('RDB')).toBeNull();
    expect(colourWords('')).toBe('');
  });
});
