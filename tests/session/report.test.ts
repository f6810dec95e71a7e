import { chromium } from 'playwright-core';
import { describe, expect, it } from 'vitest';
import { alder7Chart, alder7Checks } from '../../server/demo/index.ts';
import { readCase } from '../../server/session/locate-case.ts';
import { locateCase } from '../../server/session/located.ts';
import { proofsOf } from '../../server/session/proof.ts';
import type { Repair, RepairFile } from '../../server/session/repair.ts';
import { reportOf } from '../../server/session/report.ts';
import type { ReportInput } from '../../server/session/report.ts';
import { reportPage } from '../../server/session/report-page.ts';
import type { Check } from '../../server/session/session.ts';
import { JPEG } from '../support/jpeg.ts';
import { paperOf } from '../support/paper.ts';
import { takeOf } from '../support/takes.ts';

const check = (id: string): Check => alder7Checks.find((own) => own.id === id) as Check;
const photo = { id: '0123456789abcdef', bytes: 125, sha256: '01'.repeat(32) };
const repair: Repair = { number: 1, at: 1000, text: 'Crimp at splice S3 cut out, new crimp, sealed. Loom tied back.', place: 'S3 to C2/4', photos: [photo] };
const file = (more: Partial<RepairFile> = {}): RepairFile => ({ finding: '', photos: [], repairs: [repair], ...more });
const takes = [
  takeOf({ id: 1, check: check('supply CL+'), start: 10, verdict: 'pass', watching: 'spot', value: 12.17, reason: 'Within the limits.' }),
  takeOf({ id: 2, check: check('ground CL-'), start: 100, verdict: 'fail', dropouts: 5, value: 1.9, reason: 'Steady at 1.90 V, allowed 0.32 V.', account: { flexes: 30, provocations: [{ at: 100, provocations: ['flex'] }] } }),
  takeOf({ id: 3, check: check('ground CL-'), start: 2000, verdict: 'pass', value: 0.22, reason: 'No dropout in 90 flexes.', account: { flexes: 90, provocations: [{ at: 2000, provocations: ['flex'] }] } }),
];
const located = () => {
  const read = readCase({ chart: alder7Chart, readings: [{ check: 'ground CL-', value: 1.9 }, { check: 'drop S3 to C2/4', value: 1.75 }, { check: 'supply CL+', value: 12.17 }] });
  if (read.kind !== 'case') throw new Error('case');
  return locateCase(read.case, 1);
};
/** 60 s at 10 a second; a single reading near 12.3 V for each dropout of the sketch. */
const trace = (take: number, start: number, level: number, dropouts: readonly number[]) => ({
  take, time: Array.from({ length: 600 }, (_, i) => start + i / 10), value: Array.from({ length: 600 }, (_, i) => (dropouts.includes(i) ? 12.3 : level + 0.002 * Math.sin(i))),
  isOverRange: Array.from({ length: 600 }, () => false),
});

const input = (more: Partial<ReportInput> = {}): ReportInput => ({
  info: { id: '20261125-090000', startedAtUs: Date.UTC(2026, 10, 25, 9) * 1000, title: '', vehicle: 'Orchard work platform "Alder 7"', complaint: 'Conveyor clutch & work lamp die together <as the gantry folds>' },
  meters: [{ index: 0, address: 'simulated:', label: 'Simulated meter', simulated: true, interval: 0.1, aperture: 0.1, accuracy: { fraction: 0.005, counts: 3 }, leadOhms: 0.2, calibrated: '2026-03-14' }],
  takes, chart: alder7Chart, located: located(), repair: file(), proofs: proofsOf(takes, [repair]), photos: [{ id: photo.id, base64: JPEG.toString('base64') }], reseats: [], cautions: ['Vehicle on stands, wheels chocked.'],
  hash: 'ab'.repeat(32), areRecordsSealed: true, losses: [], isGoingOn: false, version: '0.1.0', printedAt: '25 November 2026, 10:20',
  traces: [trace(2, 100, 1.9, [20, 70, 120, 170, 220]), trace(3, 2000, 0.22, [])],
  ...more,
});
const unrepaired: Partial<ReportInput> = { repair: file({ repairs: [] }), proofs: [] };

describe('reportOf(input)', () => {
  it('says in one line what was found, what was done and whether that is proved', () => {
    expect(reportOf(input()).headline).toMatch(/^Repaired and proved\. Found: bad joint or strand, about 0\.3\d ohm, in S3 to C2\/4 \(over 99\.9 %\)\. Done: Crimp at splice S3 cut out, new crimp, sealed \(S3 to C2\/4\)\.$/);
    expect(reportOf(input(unrepaired)).headline).toMatch(/^Found: bad joint .*Not repaired yet\.$/);
    expect(reportOf(input({ proofs: proofsOf(takes.slice(0, 2), [repair]), takes: takes.slice(0, 2) })).headline).toMatch(/^Repaired, not yet proved\./);
    const again = [...takes, takeOf({ id: 4, check: check('ground CL-'), start: 2500, verdict: 'intermittent', dropouts: 1 })];
    expect(reportOf(input({ proofs: proofsOf(again, [repair]), takes: again })).headline).toMatch(/^Not in order: the fault is still there after the repair\./);
    expect(reportOf(input({ ...unrepaired, located: null, takes: [] })).headline).toBe('Nothing was measured yet.');
  });

  it('puts the finding in the words of the user before that of the readings', () => {
    const report = reportOf(input({ repair: file({ finding: 'Crimp at S3 green and loose. Cut open to look.' }) }));
    expect(report.headline).toContain('Found: Crimp at S3 green and loose.');
    expect(report.finding[0]).toBe('Crimp at S3 green and loose. Cut open to look.');
    expect(report.finding[1]).toMatch(/^From the readings, over 99\.9 %: Bad joint or strand/);
  });

  it('says a finding that was taken over from the readings once, and shortly on top', () => {
    const { located, repair: repaired } = input();
    const report = reportOf(input({ repair: { ...repaired, finding: located?.faults[0]?.words ?? '' } }));
    expect(report.headline).toMatch(/Found: bad joint or strand, about 0\.3\d ohm, in S3 to C2\/4 \(over 99\.9 %\)\./);
    expect(report.finding.filter((own) => /bad joint or strand/i.test(own))).toHaveLength(1);
  });

  it('says how long a dropout was: best value and range, range or bound alone, and of the whole where several departures are one', () => {
    const told = (duration: { estimate: number | null; low: number | null; high: number | null }, count = 1) => {
      const own = takes.map((take) => (take.id === 2 ? { ...take, judgement: { ...take.judgement, dropouts: take.judgement.dropouts.slice(0, 1).map((dropout) => ({ ...dropout, duration, count })) } } : take));
      return reportOf(input({ takes: own, proofs: proofsOf(own, [repair]) })).figures[0]?.details ?? '';
    };
    expect(told({ estimate: 0.05, low: 0.04, high: 0.07 })).toContain(' for 50 ms (40 ms to 70 ms)');
    expect(told({ estimate: null, low: 0.2, high: 0.7 }, 3)).toContain(' for 200 ms to 700 ms in all (3 departures)');
    expect(told({ estimate: null, low: null, high: 0.7 })).toContain(' for at most 700 ms');
    expect(told({ estimate: null, low: null, high: null })).not.toContain(' for at');
  });
  it('cuts a long finding between words, and begins a dropout that the take begins in at its start', () => {
    expect(reportOf(input({ repair: file({ finding: 'corroded '.repeat(40) }) })).headline).toMatch(/corroded \.\.\. Done/);
    const begun = takes.map((own) => (own.id === 2 ? { ...own, judgement: { ...own.judgement, dropouts: own.judgement.dropouts.map((dropout) => ({ ...dropout, start: dropout.start - 2.017 })) } } : own));
    expect(reportOf(input({ takes: begun, proofs: proofsOf(begun, [repair]) })).figures[0]?.details).toMatch(/^At 0 s by 12 V/);
  });

  it('shows what was measured where, with what, and the traces that decided', () => {
    const report = reportOf(input());
    expect(report.rows.map((row) => [row.check, row.reading, row.verdict])).toEqual([
      ['switched supply, red on CL+, black on B-', '12.17 V', 'pass'], ['ground, red on CL-, black on B-', '1.900 V', 'fail'], ['ground, red on CL-, black on B-', '0.220 V', 'pass'],
    ]);
    // The ground check twice, on the same basis, which is read first as it decided.
    expect(report.rows.map((row) => row.basis)).toEqual([2, 1, 1]);
    expect(report.bases).toHaveLength(2);
    expect(report.figures.map((figure) => figure.take)).toEqual([2, 3]);
    expect(report.figures[0]?.details).toBe('At 2 s by 12 V for 100 ms (20 ms to 200 ms); 7 s by 12 V for 100 ms (20 ms to 200 ms); 12 s by 12 V for 100 ms (20 ms to 200 ms); 17 s by 12 V for 100 ms (20 ms to 200 ms); 22 s by 12 V for 100 ms (20 ms to 200 ms).');
    expect(report.meters).toEqual(['Simulated meter, +/-(0.5 % + 3 counts), calibrated 2026-03-14, leads 0.2 ohm, taken off, SIMULATED']);
    expect(report.proof.rows[0]?.[3]).toBe('Proved. 5 dropouts in 30 flexes before, 0 in 90 flexes after: had nothing changed, so few would have a chance of 0.098 % (p = 0.00098)');
    expect(report.footer[0]).toContain('ab'.repeat(32));
    expect(report.notice).toMatch(/^SIMULATED METER/);
  });

  it('leaves an unknown calibration date open, never blank', () => {
    const meters = input().meters.map(({ calibrated: _, ...meter }) => meter);
    expect(reportOf(input({ meters })).meters[0]).toContain('calibration date not given');
  });
});

describe('reportPage(report)', () => {
  it('escapes whatever people typed, wherever they typed it', () => {
    const hostile = `"><img src=x onerror=alert(1)><script>alert('x')</script>&amp;`;
    const named = { ...repair, text: hostile, place: hostile };
    const evil = takes.map((take) => ({ ...take, check: { ...take.check, red: hostile, limitsBasis: hostile, condition: hostile }, judgement: { ...take.judgement, unit: hostile, reasons: [hostile] } }));
    const page = reportPage(reportOf(input({
      info: { ...input().info, title: hostile, vehicle: hostile, complaint: hostile, facts: hostile, codes: [hostile] }, takes: evil, chart: null, cautions: [hostile], repair: file({ finding: hostile, repairs: [named] }),
      proofs: proofsOf(evil, [named]), meters: input().meters.map((meter) => ({ ...meter, label: hostile, calibrated: hostile })), reseats: [{ at: 1, connector: hostile }], photos: [{ id: photo.id, base64: hostile }],
    })));
    expect(page).not.toMatch(/<script|<img src=x|onerror=alert\(1\)>/);
    expect(page.match(/<img /g)).toHaveLength(1);
    expect(page.split('&lt;script&gt;').length).toBeGreaterThan(15);
  });

  it('needs nothing from elsewhere', () => {
    expect(reportPage(reportOf(input()))).not.toMatch(/(src|href)="(?!data:image\/jpeg;base64,)|url\(|@import|<script/);
  });

  it.each(['A4', 'Letter'] as const)('prints on one page of %s in Chromium, nothing cut off at the side; with many takes the list of all is on the next', async (format) => {
    const browser = await chromium.launch({ executablePath: '/usr/bin/chromium', args: ['--no-sandbox'] });
    try {
      const page = await browser.newPage({ viewport: { width: 800, height: 1000 } });
      // As many takes, words and cautions as fill the page: two checks that failed, each before and after, in the judge's own words.
      const why = { fail: 'Reads 1.904 V, above the highest limit of 0.32 V by more than the measuring uncertainty of 0.0109 V.', pass: 'Reads 0.2182 V, below the highest limit of 0.32 V by more than the measuring uncertainty of 1.23 mV.' };
      const drop = check('drop S3 to C2/4');
      const full = [
        takeOf({ id: 1, check: takes[1]!.check, start: 100, verdict: 'fail', dropouts: 5, value: 1.9, reason: why.fail, account: { flexes: 30, provocations: [{ at: 100, provocations: ['flex'] }] } }),
        takeOf({ id: 2, check: drop, start: 200, verdict: 'fail', watching: 'spot', value: 1.75, reason: why.fail }),
        takeOf({ id: 3, check: takes[1]!.check, start: 2000, verdict: 'pass', value: 0.22, reason: why.pass, account: { flexes: 90, provocations: [{ at: 2000, provocations: ['flex'] }] } }),
        takeOf({ id: 4, check: drop, start: 2200, verdict: 'pass', watching: 'spot', value: 0.042, reason: why.pass }),
      ];
      const cautions = ['vehicle', 'restraint', 'high-voltage', 'battery'].map((subject) => `About the ${subject}: somebody who has read this knows what may happen, what to keep clear of, and who may work on it at all.`);
      const many = [...takes, ...Array.from({ length: 20 }, (_, i) => takeOf({ id: 4 + i, check: check('supply CL+'), start: 3000 + 10 * i, verdict: 'pass', watching: 'spot', value: 12.2, reason: 'Within the limits.' }))];
      for (const { own, count } of [{ own: full, count: 1 }, { own: many, count: 2 }]) {
        await page.setContent(reportPage(reportOf(input({ takes: own, proofs: proofsOf(own, [repair]), cautions: ['Vehicle on stands, wheels chocked.', ...cautions] }))));
        expect(await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth)).toBeLessThanOrEqual(0);
        const { pages, words: [first, second] } = paperOf(await page.pdf({ format }));
        expect(pages).toBe(count);
        for (const word of ['Repaired and proved', 'Crimp at splice S3', 'SIMULATED', 'calibrated 2026-03-14', 'Vehicle on stands', 'Last hash of its chain']) expect(first).toContain(word);
        if (count === 2) expect(second).toMatch(/All takes.* 23 /);
      }
    } finally {
      await browser.close();
    }
  });

  it('never hides a dropout of one reading: each is a stroke as high as it went', async () => {
    const browser = await chromium.launch({ executablePath: '/usr/bin/chromium', args: ['--no-sandbox'] });
    try {
      const page = await browser.newPage({ viewport: { width: 800, height: 1000 } });
      await page.setContent(reportPage(reportOf(input())));
      // Points of the drawn line near the top of the first figure's scale.
      const tips = await page.evaluate(() => (document.querySelector('svg path')?.getAttribute('d') ?? '').match(/[ML][\d.]+ ([\d.]+)/g)?.filter((point) => Number(point.split(' ')[1]) < 12).length);
      expect(tips).toBe(5);
    } finally {
      await browser.close();
    }
  });

  it('fits a phone', async () => {
    const browser = await chromium.launch({ executablePath: '/usr/bin/chromium', args: ['--no-sandbox'] });
    try {
      const page = await browser.newPage({ viewport: { width: 390, height: 844 } });
      await page.setContent(reportPage(reportOf(input())));
      expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(390);
    } finally {
      await browser.close();
    }
  });
});
