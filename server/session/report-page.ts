/**
 * The report as one HTML page that needs nothing else: prints on A4 and Letter, reads on a phone, carries its traces as drawings and its
 * pictures inside. No script; its only style is REPORT_STYLE, so that the service can serve it under a policy that names just that. Pure.
 */
import { figure } from './path-words.ts';
import { traceDrawing } from './report-drawing.ts';
import type { Report, ReportRepair, ReportRow } from './report.ts';

/** Columns with much to say get the room for it; figures stay on one line. */
const COLUMNS: Readonly<Record<string, string>> = { Check: ' class="check"', Why: ' class="why"', Result: ' class="why"', Reading: ' class="whole"', Limits: ' class="whole"' };
/** With more takes than this the first page lists those that decided, and all of them follow. */
const MOST_ROWS = 4;

/** Black on white: it must survive a photocopy. */
export const REPORT_STYLE = `
  @page { margin: 8mm 10mm }
  * { box-sizing: border-box }
  body { font: 8.5pt/1.22 Arial, 'Liberation Sans', 'Helvetica Neue', sans-serif; color: #111; background: #fff; margin: 0 auto; padding: 4mm; max-width: 194mm }
  h1 { font-size: 15pt; line-height: 1.1; margin: 0 0 1mm }
  h2 { font-size: 9.5pt; margin: 1.3mm 0 0.5mm; border-bottom: 0.4mm solid #111; break-after: avoid }
  h3 { font-size: 9.5pt; margin: 1mm 0 0; break-after: avoid }
  p { margin: 0.5mm 0; overflow-wrap: anywhere; white-space: pre-line }
  .headline { font-size: 12pt; line-height: 1.25; font-weight: 600; border: 0.5mm solid #111; border-left-width: 3mm; padding: 1.5mm 3mm; margin: 1.5mm 0 }
  .notice { font-weight: 600 }
  .columns { display: grid; grid-template-columns: 1fr 1fr; gap: 0 6mm; align-items: start }
  dl { display: grid; grid-template-columns: max-content 1fr; gap: 0 3mm; margin: 0 }
  dt { font-weight: 600 } dd { margin: 0; overflow-wrap: anywhere }
  table { border-collapse: collapse; width: 100%; font-size: 7.5pt; line-height: 1.18 }
  .why { width: 38% } .check { width: 22% } .whole { white-space: nowrap }
  th, td { text-align: left; vertical-align: top; padding: 0.3mm 1.2mm; border-bottom: 0.2mm solid #999; overflow-wrap: break-word }
  tr, figure, img { break-inside: avoid }
  thead { display: table-header-group }
  figure { margin: 1mm 0 } figcaption { font-size: 7.5pt; line-height: 1.18 }
  svg { display: block; width: 100%; height: auto }
  ul { margin: 0.5mm 0; padding-left: 5mm } .small { font-size: 7pt; line-height: 1.18 } .split { columns: 3; column-gap: 5mm; font-size: 6.5pt } .split ul { margin: 0; padding-left: 3mm }
  .photos { display: flex; flex-wrap: wrap; gap: 2mm; margin: 1mm 0 } .photos img { height: 17mm; max-width: 60mm; object-fit: contain; border: 0.2mm solid #999 }
  footer { break-inside: avoid; margin-top: 2mm; border-top: 0.4mm solid #111; padding-top: 1mm; font-size: 7pt; line-height: 1.2; overflow-wrap: anywhere }
  .annex { break-inside: avoid; margin-top: 3mm }
  @media print { body { padding: 0; max-width: none } }
  @media screen and (max-width: 640px) { .split { columns: 1 } .columns { grid-template-columns: minmax(0, 1fr) } table { display: block; overflow-x: auto } }
`;

/** @returns a whole HTML document, all text escaped */
export function reportPage(report: Report): string {
  const isLong = report.rows.length > MOST_ROWS;
  const first = isLong ? report.rows.filter(({ decides }) => decides) : report.rows;
  return `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><title>${escape(report.title)}</title><style>${REPORT_STYLE}</style></head>
<body><main>
<h1>${escape(report.title)}</h1>
<p class="headline">${escape(report.headline)}</p>
${report.notice === '' ? '' : `<p class="notice">${escape(report.notice)}</p>`}
<div class="columns">
<dl>${report.facts.map(([label, value]) => `<dt>${escape(label)}</dt><dd>${escape(value)}</dd>`).join('')}</dl>
<dl><dt>Measured with</dt><dd>${report.meters.map(escape).join('<br>') || 'nothing yet'}</dd></dl>
</div>
<div class="columns">
${section('Finding', items(report.finding))}
${section(report.repairs.length > 1 ? 'Repairs' : 'Repair', report.repairs.map(repairBlock).join(''))}
</div>
${section('Proof', report.proof.words === '' ? '' : `<p><b>${escape(report.proof.words)}</b></p>${table('Before and after the repair', ['Check', 'Before', 'After', 'Result'], report.proof.rows)}`)}
${section('Traces that decided', report.figures.length === 0 ? '' : `<div class="columns">${report.figures.map((own) => traceFigure(report, own)).join('')}</div>`)}
${section(`What was measured${inState(first)}`, measured(first) + left(report.rows.length - first.length) + bases(report, first))}
${section('Cautions that were read', report.cautions.length === 0 ? '' : `<div class="small split">${items(report.cautions)}</div>`)}
</main><footer>${report.footer.map((line) => `<div>${escape(line)}</div>`).join('')}</footer>${isLong ? `<div class="annex">${section(`All takes${inState(report.rows)}`, measured(report.rows) + bases(report, report.rows, first))}</div>` : ''}</body></html>
`;
}

function left(takes: number): string {
  return takes === 0 ? '' : `<p class="small">${takes} more in the list of all takes at the end.</p>`;
}

/** Where the limits of these rows come from, by the numbers in them. @param told  rows whose limits were explained already */
function bases(report: Report, rows: readonly ReportRow[], told: readonly ReportRow[] = []): string {
  const isIn = (list: readonly ReportRow[], number: number): boolean => list.some(({ basis }) => basis === number);
  return report.bases.map((basis, order) => (isIn(rows, order + 1) && !isIn(told, order + 1) ? `<div class="small">[${order + 1}] ${escape(basis)}</div>` : '')).join('');
}

/** State of the circuit in all of these takes; empty when they differ. */
function commonState(rows: readonly ReportRow[]): string {
  return rows.every(({ condition }) => condition === rows[0]?.condition) ? rows[0]?.condition ?? '' : '';
}

function inState(rows: readonly ReportRow[]): string {
  const state = commonState(rows);
  return state === '' ? '' : `: ${state}`;
}

/** Each row says the state of the circuit only where it differs. */
function measured(rows: readonly ReportRow[]): string {
  const state = commonState(rows);
  return table('Takes', ['Take', 'Check', 'Reading', 'Limits', 'Verdict', 'Why', 'Dropouts visible from'], rows.map((row) => [
    `${row.take}${row.when === '' ? '' : `, ${row.when}`}`, `${row.check} (${row.watching})${state !== '' || row.condition === '' ? '' : `; ${row.condition}`}`, row.reading,
    `${row.limits}${row.basis === 0 ? '' : ` [${row.basis}]`}`, row.verdict, row.reason, row.shortest,
  ]));
}

function section(heading: string, body: string): string {
  return body === '' ? '' : `<section><h2>${escape(heading)}</h2>${body}</section>`;
}

function items(lines: readonly string[]): string {
  return lines.length === 0 ? '' : lines.length === 1 ? `<p>${escape(lines[0] ?? '')}</p>` : `<ul>${lines.map((line) => `<li>${escape(line)}</li>`).join('')}</ul>`;
}

function table(name: string, heading: readonly string[], rows: readonly (readonly string[])[]): string {
  if (rows.length === 0) return '';
  const looks = heading.map((column) => COLUMNS[column] ?? '');
  const cells = (row: readonly string[], tag: string): string => row.map((cell, column) => `<${tag}${looks[column] ?? ''}>${escape(cell)}</${tag.split(' ')[0]}>`).join('');
  return `<table aria-label="${escape(name)}"><thead><tr>${cells(heading, 'th scope="col"')}</tr></thead><tbody>${rows.map((row) => `<tr>${cells(row, 'td')}</tr>`).join('')}</tbody></table>`;
}

function repairBlock({ heading, text, photos, outcome }: ReportRepair): string {
  const pictures = photos.map(({ base64 }, order) => `<img src="data:image/jpeg;base64,${escape(base64)}" alt="Picture ${order + 1} of ${photos.length}">`).join('');
  return `<h3>${escape(heading)}</h3><p>${escape(text)}</p>${pictures === '' ? '' : `<div class="photos">${pictures}</div>`}${outcome === '' ? '' : `<p><i>${escape(outcome)}</i></p>`}`;
}

function traceFigure(report: Report, own: Report['figures'][number]): string {
  const drawing = traceDrawing(own, report.figures.filter((other) => other.group === own.group));
  return drawing === null ? '' : `<figure><svg viewBox="0 0 ${drawing.width} ${drawing.height}" role="img" aria-label="${escape(own.caption)}">${drawing.shapes}${drawing.labels.map(({ x, y, text, anchor }) => `<text x="${figure(x)}" y="${figure(y)}" text-anchor="${anchor}" font-size="12">${escape(text)}</text>`).join('')}</svg><figcaption><b>${escape(own.caption)}</b>${own.details === '' ? '' : `<br>${escape(own.details)}`}</figcaption></figure>`;
}

function escape(text: string): string {
  return text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;').replaceAll('"', '&quot;').replaceAll("'", '&#39;');
}
