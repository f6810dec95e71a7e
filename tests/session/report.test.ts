import { execFileSync } from 'node:child_process';
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { chromium } from 'playwright-core';
import { describe, expect, it } from 'vitest';
import { alder7Chart, alder7Checks } from '../../server/demo/index.ts';
import { locateCase, readCase } from '../../server/session/locate-case.ts';
import { proofOf } from '../../server/session/proof.ts';
import type { Repair } from '../../server/session/proof.ts';
import { reportOf } from '../../server/session/report.ts';
import type { ReportInput } from '../../server/session/report.ts';
import { reportPage } from '../../server/session/report-page.ts';
import type { Check } from '../../server/session/session.ts';
import { takeOf } from '../support/takes.ts';

const check = (id: string): Check => alder7Checks.find((own) => own.id === id) as Check;
const repair: Repair = { at: 1000, text: 'Crimp at splice S3 cut out, new crimp, sealed', place: 'S3 to C2/4', photos: ['splice-s3-before.jpg'] };
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

const input = (more: Partial<ReportInput> = {}): ReportInput => ({
  info: { id: '20261125-090000', startedAtUs: Date.UTC(2026, 10, 25, 9) * 1000, title: '', vehicle: 'Orchard work platform "Alder 7"', complaint: 'Conveyor clutch & work lamp die together <as the gantry folds>' },
  meters: [{ index: 0, address: 'simulated:', label: 'Simulated meter', simulated: true, interval: 0.1, aperture: 0.1, accuracy: { fraction: 0.005, counts: 3 }, leadOhms: 0.2 }],
  papers: [{ meter: 0, serialNumber: 'A-17', calibrated: '2026-03-14' }],
  takes, chart: alder7Chart, located: located(), repair, proof: proofOf(takes, repair), cautions: ['Vehicle on stands, wheels chocked.'], fileHash: 'ab'.repeat(32), version: '0.1.0', printedAt: '25 November 2026, 10:20',
  traces: [2, 3].map((take) => {
    const low = Array.from({ length: 300 }, (_, column) => (take === 2 ? 1.88 : 0.217) + 0.002 * Math.sin(column));
    const high = low.map((value, column) => value + 0.01 + (take === 2 && column % 60 === 30 ? 10.4 : 0));
    return { take, start: take === 2 ? 100 : 2000, end: take === 2 ? 160 : 2060, low, high, overRange: low.map(() => false) };
  }),
  ...more,
});

describe('reportOf(input)', () => {
  it('says in one line what was found and whether the repair is proved', () => {
    expect(reportOf(input()).headline).toMatch(/^Repaired and proved\. Found: bad joint or strand, about 0\.3\d ohm, in S3 to C2\/4 \(over 99\.9 %\)\.$/);
    expect(reportOf(input({ repair: null, proof: proofOf(takes, null) })).headline).toMatch(/^Found: bad joint .*Not repaired yet\.$/);
    expect(reportOf(input({ proof: proofOf(takes.slice(0, 2), repair) })).headline).toMatch(/^Repaired, not yet proved\./);
    expect(reportOf(input({ located: null, repair: null, proof: proofOf(takes, null), takes: [] })).headline).toBe('Nothing was measured yet.');
  });

  it('shows what was measured where, with what, and the traces that decided', () => {
    const report = reportOf(input());
    expect(report.rows.map((row) => [row.check, row.reading, row.verdict])).toEqual([
      ['switched supply, red on CL+, black on B-', '12.2 V', 'pass'], ['ground, red on CL-, black on B-', '1.9 V', 'fail'], ['ground, red on CL-, black on B-', '0.22 V', 'pass'],
    ]);
    expect(report.traces.map((trace) => trace.take)).toEqual([2, 3]);
    expect(report.meters).toEqual(['Simulated meter, number A-17, +/-(0.5 % + 3 counts), calibrated 2026-03-14, leads 0.2 ohm, taken off, SIMULATED']);
    expect(report.proof.rows[0]?.[3]).toMatch(/^proved\. 5 dropouts in 30 flexes before, 0 in 90 flexes after: p = 0\.00098$/);
    expect(report.footer[0]).toContain('ab'.repeat(32));
    expect(report.notice).toMatch(/^SIMULATED METER/);
  });

  it('leaves an unknown calibration date open, never blank', () => {
    expect(reportOf(input({ papers: [] })).meters[0]).toContain('calibration date not given');
  });
});

describe('reportPage(report)', () => {
  it('escapes what people typed', () => {
    const page = reportPage(reportOf(input()));
    expect(page).toContain('&lt;as the gantry folds&gt;');
    expect(page).toContain('Conveyor clutch &amp; work lamp');
    expect(page).not.toContain('<as the');
  });

  it('needs nothing from elsewhere', () => {
    expect(reportPage(reportOf(input()))).not.toMatch(/(src|href)=|url\(|@import|<script/);
  });

  it.each(['A4', 'Letter'] as const)('prints on %s in Chromium within two pages, nothing cut off at the side', async (format) => {
    const browser = await chromium.launch({ executablePath: '/usr/bin/chromium', args: ['--no-sandbox'] });
    try {
      const page = await browser.newPage({ viewport: { width: 800, height: 1000 } });
      await page.setContent(reportPage(reportOf(input())));
      const overflow = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
      expect(overflow).toBeLessThanOrEqual(0);
      const pdf = await page.pdf({ format });
      const folder = new URL('../.work/', import.meta.url);
      if (!existsSync(folder)) mkdirSync(folder, { recursive: true });
      const file = new URL(`report-${format}.pdf`, folder);
      writeFileSync(file, pdf);
      const pages = readFileSync(file, 'latin1').match(/\/Type\s*\/Page[^s]/g)?.length ?? 0;
      expect(pages).toBeGreaterThanOrEqual(1);
      expect(pages).toBeLessThanOrEqual(2);
      const words = execFileSync('/usr/bin/pdftotext', ['-layout', file.pathname, '-'], { encoding: 'utf8' });
      for (const word of ['Repaired and proved', 'Crimp at splice S3', 'SIMULATED', 'calibrated 2026-03-14']) expect(words).toContain(word);
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
