/** The contract judge/1, key by key: names, order, types, units, and null (never 0) for what is not known. */
import { describe, expect, it } from 'vitest';
import { z } from 'zod';
import { quiet } from '../diagnosis/setup.ts';
import { file, judge, judgeJson, row, table } from './judge-run.ts';

const known = z.number().finite();
const maybe = known.nullable();
const time = known;
const contract = {
  schema: z.literal('judge/1'), algorithm: z.string().min(1), quantity: z.string(), unit: z.string(), samples: z.number().int().positive(), elapsed_s: known.min(0),
  interval_s: known.positive().nullable(), aperture_s: known.positive().nullable(), noise: known.positive().nullable(), resolution: known.positive().nullable(), level: maybe,
  steady: z.array(z.strictObject({ start_s: time, end_s: time, value: known, spread: known.min(0) })),
  dropouts: z.array(z.strictObject({
    start_s: time, end_s: time, count: z.number().int().min(1), depth: maybe, over_range: z.literal(true).optional(),
    duration_s: z.strictObject({ estimate: maybe, low: maybe, high: maybe }),
  })),
  sags: z.array(z.strictObject({ start_s: time, end_s: time, depth: maybe })),
  shifts: z.array(z.strictObject({ at_s: time, from: maybe, to: maybe })),
  gaps: z.array(z.strictObject({ start_s: time, end_s: time })),
  verdict: z.enum(['pass', 'fail', 'intermittent', 'undecided']), level_verdict: z.enum(['pass', 'fail', 'undecided']), reasons: z.array(z.string().min(5)).min(1),
  shortest_visible_dropout_s: known.positive().nullable(), sure_dropout_s: known.positive().nullable(),
  rate_limit_per_hour: z.strictObject({ length_s: known.positive(), limit: known.positive().nullable() }).nullable(),
};
const schema = z.object(contract);

const volts = (n: number, level = 12.1): string[] => quiet(level, n).map((v, i) => row(i, v.toFixed(2)));
const ohms = (n: number): string[] => quiet(0.4, n, 1, 0.03, 0.1).map((v, i) => row(i, v.toFixed(1), 'Ohm'));
const withDropout = (rows: string[], at: number, value: string, unit = 'V'): string[] => rows.map((line, i) => (i === at ? row(i, value, unit) : line));
const blank = (rows: string[], from: number, to: number): string[] => rows.map((line, i) => (i >= from && i < to ? row(i, '') : line));

describe('judge/1', () => {
  it.each([
    ['a clean supply', table(volts(700)), ['--low', '11', '--accuracy', '0.5%+2']],
    ['a supply that drops out', table(withDropout(volts(300), 150, '0.20')), []],
    ['ohms that open', table(withDropout(ohms(300), 150, 'OL', 'Ohm')), []],
    ['an open circuit throughout', table(Array.from({ length: 60 }, (_, i) => row(i, 'OL', 'Ohm'))), []],
    ['a take with a gap', table(blank(volts(300), 100, 120)), []],
    ['a level that shifts', table([...volts(200), ...volts(400, 9).slice(200)]), []],
    ['a spot take', table(volts(60)), ['--take', 'spot']],
    ['a road take', table(withDropout(volts(900), 400, '0.20')), ['--take', 'road', '--aperture', '0.05']],
    ['two readings', table(volts(2)), []],
    ['one reading', table(volts(1)), []],
  ])('%s', async (_name, text, options) => {
    const result = await judgeJson(text, ...options);
    expect(Object.keys(result).slice(0, Object.keys(contract).length)).toEqual(Object.keys(contract));
    expect(schema.safeParse(result).error?.issues ?? []).toEqual([]);
  });

  it('gives times in seconds of the file, values in SI and depth with its sign', async () => {
    const millivolts = withDropout(volts(300), 150, '0.20').map((line) => {
      const [at, value] = line.split(',') as [string, string];
      return `${(Number(at) + 1000).toFixed(1)},${(1000 * Number(value)).toFixed(0)},mV,`;
    });
    const result = await judgeJson(table(millivolts));
    expect(result).toMatchObject({ quantity: 'voltage', unit: 'V', samples: 300, aperture_s: null, verdict: 'intermittent' });
    expect(result['elapsed_s']).toBeCloseTo(30, 3);
    const [dropout] = result['dropouts'] as { start_s: number; depth: number; duration_s: { estimate: null } }[];
    expect(dropout!.start_s).toBeGreaterThan(1014.7);
    expect(dropout!.start_s).toBeLessThan(1015.01);
    expect(dropout!.depth).toBeCloseTo(-11.9, 1);
    // Without an aperture the length is bounded, not estimated.
    expect(dropout!.duration_s.estimate).toBeNull();
  });

  it('a depth that is over-range is null, and says over_range; what is not known is null', async () => {
    const opened = await judgeJson(table(withDropout(ohms(300), 150, 'OL', 'Ohm')));
    expect(opened['dropouts']).toMatchObject([{ depth: null, over_range: true }]);
    const open = await judgeJson(table(Array.from({ length: 60 }, (_, i) => row(i, 'OL', 'Ohm'))));
    expect(open).toMatchObject({ level: null, noise: null, shortest_visible_dropout_s: null, sure_dropout_s: null, level_over_range: true, level_verdict: 'fail' });
    const single = await judgeJson(table(volts(1)));
    expect(single).toMatchObject({ interval_s: null, noise: null, rate_limit_per_hour: { limit: null } });
    const spot = await judgeJson(table(volts(60)), '--take', 'spot');
    expect(spot).toMatchObject({ rate_limit_per_hour: null, shortest_visible_dropout_s: null, claims: [] });
  });
});

describe('judge/1 goes beyond its contract', () => {
  it('states each claim, with what it still needs: the rule of three at 95 %', async () => {
    // A minute at 10 readings/s, each open of 0.1 s caught: 2.996 / 60 per flexed second, 2.996 an hour over 1/60 h; 59 flexes for 5 % (1 - 0.05^(1/59)).
    const result = await judgeJson(table(volts(600)), '--aperture', '0.1', '--flexes', '20');
    const claims = result['claims'] as { per: string; rate: number; length_s: number; exposure: number; limit: number; needed: number; met: boolean }[];
    expect(claims.map(({ per }) => per)).toEqual(['flex', 'second', 'hour']);
    const [flex, second, hour] = claims as [(typeof claims)[0], (typeof claims)[0], (typeof claims)[0]];
    expect(flex).toMatchObject({ rate: 0.05, length_s: 0.1, exposure: 20, needed: 39, met: false });
    expect(flex.limit).toBeCloseTo(1 - 0.05 ** (1 / 20), 3);
    expect(second.limit).toBeCloseTo(2.9957 / 60, 3);
    expect(second.met).toBe(true);
    expect(hour.limit).toBeCloseTo(2.9957 * 60, 0);
    expect(hour.needed).toBeCloseTo(2.9957 / 6 - 1 / 60, 2);
  });

  it('says what this meter would have seen: lengths, chances, and the smallest series resistance with the load', async () => {
    const result = await judgeJson(table(volts(600)), '--aperture', '0.05', '--load-ohms', '3');
    const chances = (result['catching'] as { length_s: number; chance: number }[]).map(({ chance }) => chance);
    expect(chances).toEqual([...chances].sort((a, b) => a - b));
    expect(chances.at(-1)).toBeCloseTo(1, 6);
    // Half of each interval is dead: a break of 10 ms falls into the aperture, or touches it, in 60 ms of 100.
    expect(chances[1]).toBeGreaterThan(0.5);
    expect(chances[1]).toBeLessThan(0.62);
    expect(result['caught_length_s']).toBeGreaterThan(0.045);
    expect(result['caught_length_s']).toBeLessThan(0.06);
    // Ohm's law: level V falls to V R_load / (R_load + R); the fall equals the threshold.
    const series = (result['smallest_visible_series_ohm'] as { with_load: number }).with_load;
    const level = result['level'] as number;
    expect(level - (level * 3) / (3 + series)).toBeCloseTo(result['threshold'] as number, 9);
  });

  it('reads marks: zones with the chance of each, and a proof of the leads', async () => {
    let rows = volts(1200);
    for (const at of [450, 480, 520, 560]) rows = withDropout(rows, at, '0.20');
    const marks = 'time,text,kind\n0,begin,rig-proof\n10,end,rig-proof\n12,hinge,zone\n40,plug,zone\n80,tray,zone\n';

    const result = await judgeJson(table(rows), '--marks', file(marks));
    const { zones, source } = result['zones'] as { zones: { zone: string; dropouts: number; chance: number; flexed_s: number }[]; source: string | null };
    expect(zones.map(({ zone, dropouts }) => [zone, dropouts])).toEqual([['hinge', 0], ['plug', 4], ['tray', 0]]);
    expect(zones.find(({ zone }) => zone === 'plug')!.chance).toBeGreaterThan(0.5);
    expect(source === null || source === 'plug').toBe(true);
    expect(result['road']).toBeNull();
    expect((result['reasons'] as string[]).join(' ')).toContain('Prove the leads once more');
  });

  it('reads marks of a road take: which kind of mark the dropouts go with', async () => {
    let rows = volts(12_000);
    const bumps = Array.from({ length: 8 }, (_, k) => 60 + 140 * k);
    for (const at of bumps) rows = withDropout(rows, 10 * at - 10, '0.20');

    const result = await judgeJson(table(rows), '--take', 'road', '--marks', file(`time,text\n${bumps.map((at) => `${at},bump`).join('\n')}\n`));
    const { by_mark: [bump], words } = result['road'] as { by_mark: { text: string; near: number; corrected_p: number }[]; words: string[] };
    expect(bump).toMatchObject({ text: 'bump', near: 8 });
    expect(bump!.corrected_p).toBeLessThan(0.001);
    expect(words.join(' ')).toContain('bump');
  });

  it.each([
    ['time;note\n1;a\n', 'line 1: the heading of the marks lacks "text"'],
    ['time,text\nsoon,bump\n', 'line 2: time of the mark is "soon"'],
    ['time,text,kind\n1,hinge,zone\n2,x,tickle\n', 'line 3: kind of the mark is "tickle"'],
    ['time,text,kind,count\n1,flexed,flex,-2\n', 'line 2: count is "-2"'],
    ['', 'the file of marks is empty'],
  ])('refuses marks that it can’t use: %j', async (text, message) => {

    const { code, err } = await judge(file(table(volts(20))), '--marks', file(text));
    expect(code).toBe(2);
    expect(err).toContain(message);
  });
});
