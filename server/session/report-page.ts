/** The report as one HTML page that needs nothing else: prints on A4 and Letter, reads on a phone, carries its traces as drawings. */
import { figure } from './path-words.ts';
import type { Report } from './report.ts';

const STYLE = `
  @page { margin: 14mm }
  * { box-sizing: border-box }
  body { font: 10.5pt/1.35 system-ui, sans-serif; color: #111; background: #fff; margin: 0 auto; padding: 4mm; max-width: 190mm }
  h1 { font-size: 15pt; margin: 0 0 1mm }
  h2 { font-size: 11pt; margin: 5mm 0 1mm; border-bottom: 0.4mm solid #111; break-after: avoid }
  .headline { font-size: 12.5pt; font-weight: 600; border: 0.5mm solid #111; padding: 2mm 3mm; margin: 2mm 0 }
  dl { display: grid; grid-template-columns: max-content 1fr; gap: 0 4mm; margin: 0 }
  dt { font-weight: 600 } dd { margin: 0; overflow-wrap: anywhere }
  table { border-collapse: collapse; width: 100%; font-size: 8.5pt }
  th, td { text-align: left; vertical-align: top; padding: 0.6mm 1.2mm; border-bottom: 0.2mm solid #999; overflow-wrap: break-word }
  tr, figure { break-inside: avoid }
  thead { display: table-header-group }
  @media (max-width: 600px) { table { display: block; overflow-x: auto } }
  figure { margin: 2mm 0 } figcaption { font-size: 9pt }
  svg { display: block; width: 100%; height: auto }
  ul { margin: 1mm 0; padding-left: 5mm } footer { margin-top: 5mm; font-size: 8pt; overflow-wrap: anywhere }
  .verdict { font-weight: 600 }
`;

/** @returns a whole HTML document, all text escaped */
export function reportPage(report: Report): string {
  const section = (heading: string, body: string): string => (body === '' ? '' : `<section><h2>${escape(heading)}</h2>${body}</section>`);
  const items = (lines: readonly string[]): string => (lines.length === 0 ? '' : `<ul>${lines.map((line) => `<li>${escape(line)}</li>`).join('')}</ul>`);
  const table = (heading: readonly string[], rows: readonly (readonly string[])[]): string => (rows.length === 0 ? ''
    : `<table><thead><tr>${heading.map((cell) => `<th scope="col">${escape(cell)}</th>`).join('')}</tr></thead><tbody>${rows.map((row) => `<tr>${row.map((cell) => `<td>${escape(cell)}</td>`).join('')}</tr>`).join('')}</tbody></table>`);
  return `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><title>${escape(report.title)}</title><style>${STYLE}</style></head>
<body><main>
<h1>${escape(report.title)}</h1>
<p class="headline">${escape(report.headline)}</p>
${report.notice === '' ? '' : `<p class="verdict">${escape(report.notice)}</p>`}
<dl>${report.facts.map(([label, value]) => `<dt>${escape(label)}</dt><dd>${escape(value)}</dd>`).join('')}</dl>
${section('Finding', items(report.finding))}
${section('Repair', items(report.repair))}
${section('Proof', `<p class="verdict">${escape(report.proof.words)}</p>${table(['Check', 'Before', 'After', 'Result'], report.proof.rows)}`)}
${section('Traces', report.traces.map(traceFigure).join(''))}
${section('What was measured', table(['Check', 'State', 'Reading', 'Limits', 'Verdict', 'Why', 'Shortest dropout'], report.rows.map((row) => [`${row.check} (${row.watching})`, row.condition, row.reading, `${row.limits}${row.basis === '' ? '' : `: ${row.basis}`}`, row.verdict, row.reason, row.shortest])))}
${section('Measured with', items(report.meters))}
${section('Cautions that were shown', items(report.cautions))}
</main><footer>${report.footer.map((line) => `<div>${escape(line)}</div>`).join('')}</footer></body></html>
`;
}

const WIDTH = 720;
const HEIGHT = 120;
const LEFT = 52;
const BOTTOM = 18;

/** A band from the smallest to the largest value of each column; dropouts as marks below; limits as dashed lines. Black on white: it must survive a photocopy. */
function traceFigure(trace: Report['traces'][number]): string {
  const values = [...trace.low, ...trace.high, trace.limits.low ?? NaN, trace.limits.high ?? NaN].filter(Number.isFinite);
  if (values.length === 0) return '';
  const [least, most] = [Math.min(...values), Math.max(...values)];
  const margin = (most - least || Math.abs(most) || 1) * 0.08;
  const [bottom, top] = [least - margin, most + margin];
  const x = (column: number): number => LEFT + ((WIDTH - LEFT) * (column + 0.5)) / trace.low.length;
  const y = (value: number): number => (HEIGHT - BOTTOM) * (1 - (value - bottom) / (top - bottom));
  const atTime = (time: number): number => LEFT + ((WIDTH - LEFT) * (time - trace.start)) / (trace.end - trace.start || 1);
  const columns = trace.low.map((low, column) => {
    const high = trace.high[column] ?? NaN;
    if (trace.overRange[column] === true) return `M${number(x(column))} 0V${number(y(Number.isFinite(low) ? low : bottom))}`;
    return Number.isFinite(low) && Number.isFinite(high) ? `M${number(x(column))} ${number(y(high) - 0.5)}V${number(y(low) + 0.5)}` : '';
  }).join('');
  const limits = [trace.limits.low, trace.limits.high].flatMap((limit) => (limit === null ? [] : [`<path d="M${LEFT} ${number(y(limit))}H${WIDTH}" stroke-dasharray="6 4" stroke="#111" fill="none"/>`])).join('');
  const dropouts = trace.dropouts.map((dropout) => `<path d="M${number(atTime(dropout.start))} ${HEIGHT - BOTTOM + 2}l4 8h-8z" fill="#111"/>`).join('');
  const label = (value: number): string => `<text x="${LEFT - 4}" y="${number(y(value) + 4)}" text-anchor="end" font-size="11">${escape(figure(value))} ${escape(trace.unit)}</text>`;
  return `<figure><svg viewBox="0 0 ${WIDTH} ${HEIGHT}" role="img" aria-label="${escape(trace.caption)}"><rect x="${LEFT}" width="${WIDTH - LEFT}" height="${HEIGHT - BOTTOM}" fill="none" stroke="#111"/>
<path d="${columns}" stroke="#111" stroke-width="${number(Math.max(1, (WIDTH - LEFT) / trace.low.length))}" fill="none"/>${limits}${dropouts}${label(least)}${most > least ? label(most) : ''}
<text x="${WIDTH}" y="${HEIGHT - 2}" text-anchor="end" font-size="11">${escape(figure(trace.end - trace.start))} s</text></svg><figcaption>${escape(trace.caption)}</figcaption></figure>`;
}

function number(value: number): string {
  return String(Math.round(value * 10) / 10);
}

function escape(text: string): string {
  return text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;').replaceAll('"', '&quot;');
}
