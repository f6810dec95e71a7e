/** The chart as a drawing, from supply to ground, in the colours of the wires. It follows the table; what the search knows lies over it. */
import { useEffect, useRef } from 'preact/hooks';
import type { Chart, ChartSpan, PointKind } from '../../../server/session/chart.ts';
import { layoutChart, type PlacedLink, type PlacedPoint } from '../../chart/layout.ts';
import { pathOf } from '../../chart/wire-way.ts';
import { texts } from '../../texts.ts';
import { wayOf, x, y, MARGIN, COLUMN, ROW } from './diagram-places.ts';
import { ChancesUnder, describeChances, likeliestLink, MarksOver, type DiagramSearch } from './diagram-search.tsx';

/** Screen colours of the letter codes of IEC 60757; seen with their words, never alone. */
const WIRE: Readonly<Record<string, string>> = {
  BK: '#3a3a3a', BN: '#7a4a21', RD: '#c4161c', OG: '#e07b00', YE: '#e6c200', GN: '#2a8a3e', BU: '#2a62c4', VT: '#7d3fb0', GY: '#8b8b8b', WH: '#f4f4f4', PK: '#ec8fb0', GD: '#b89a3c', TQ: '#2aa7a0', SR: '#b8bcc0',
};

export function Diagram({ chart, search, onSpan }: { chart: Chart; search: DiagramSearch | null; onSpan: (id: string) => void }) {
  const layout = layoutChart(chart);
  const width = MARGIN.left * 2 + (layout.columns - 1) * COLUMN;
  const height = MARGIN.top * 2 + (layout.rows - 1) * ROW + 20;
  const spans = new Map(chart.spans.map((span) => [span.id, span]));
  const frame = useRef<HTMLDivElement>(null);
  const likeliest = search === null ? null : likeliestLink(layout, search);
  useEffect(() => {
    // What matters is in sight, also where the drawing is wider than the screen.
    if (frame.current !== null && likeliest !== null) frame.current.scrollLeft = (x(likeliest.from) + x(likeliest.to) - frame.current.clientWidth) / 2;
  }, [likeliest?.id]);
  return (
    <div class="diagram" ref={frame} tabIndex={0} role="group" aria-label={texts.chart.diagram}>
      <svg width={width} height={height} viewBox={`0 0 ${width} ${height}`} role="img" aria-label={`${texts.chart.diagramText(chart.points.length, chart.spans.length)}${search === null ? '' : describeChances(search)}`}>
        {search !== null && <ChancesUnder layout={layout} search={search} />}
        {layout.links.map((link) => (link.kind === 'span' ? <Span key={link.id} link={link} span={spans.get(link.id)!} onSpan={onSpan} /> : <Part key={link.id} link={link} />))}
        {layout.points.map((placed) => <Point key={placed.point.id} placed={placed} />)}
        {search !== null && <MarksOver layout={layout} spans={spans} search={search} />}
      </svg>
    </div>
  );
}

function Span({ link, span, onSpan }: { link: PlacedLink; span: ChartSpan; onSpan: (id: string) => void }) {
  const [first, second] = span.colour.match(/../g) ?? [];
  const path = pathOf(wayOf(link));
  const isBent = y(link.from) !== y(link.to);
  // A bent one is labelled beside its fall, so that it does not lie on the straight one that leaves the same point.
  const labelX = isBent ? x(link.to) - 32 : (x(link.from) + Math.min(x(link.to), x(link.from) + COLUMN)) / 2;
  const labelY = isBent ? (y(link.from) + y(link.to)) / 2 + 24 : y(link.from);
  return (
    <g class={`d-span${isBent ? ' is-bent' : ''}`} onClick={() => onSpan(span.id)}>
      <path d={path} class="d-casing" />
      <path d={path} stroke={WIRE[first ?? ''] ?? 'var(--quiet)'} stroke-width="5" fill="none" />
      {second !== undefined && <path d={path} stroke={WIRE[second] ?? 'var(--quiet)'} stroke-width="5" stroke-dasharray="8 12" fill="none" />}
      <text x={labelX} y={labelY - (isBent ? 10 : 20)}>{span.colour} {span.crossSection}</text>
      <text x={labelX} y={labelY + (isBent ? 5 : 28)}>{texts.chart.metres(span.length)}</text>
      {span.exposures.length > 0 && <text x={labelX} y={labelY + (isBent ? 19 : 42)} class="d-exposure">{span.exposures.join(', ')}</text>}
      <title>{`${span.id}: ${span.route}`}</title>
    </g>
  );
}

function Part({ link }: { link: PlacedLink }) {
  const middle = (x(link.from) + x(link.to)) / 2;
  const at = y(link.from);
  return (
    <g class={`d-part is-${link.kind}`}>
      <path d={pathOf(wayOf(link))} class="d-wire" />
      {link.kind === 'fuse' && <rect x={middle - 18} y={at - 7} width="36" height="14" />}
      {link.kind === 'contact' && <path d={`M${middle - 14} ${at}l26 -12M${middle + 14} ${at}h2`} class="d-contact" />}
      {link.kind === 'load' && <><circle cx={middle} cy={at} r="14" /><path d={`M${middle - 9} ${at - 9}l18 18M${middle + 9} ${at - 9}l-18 18`} class="d-wire" /></>}
      <text x={middle} y={at + 32}>{link.id}</text>
    </g>
  );
}

/** Blades and pins are squares, splices dots, studs and posts rings: shapes of our own, named beside. */
function Point({ placed }: { placed: PlacedPoint }) {
  const { point } = placed;
  const at = [x(placed), y(placed)] as const;
  const shape: Record<PointKind, preact.JSX.Element> = {
    pin: <rect x={at[0] - 7} y={at[1] - 7} width="14" height="14" />,
    blade: <rect x={at[0] - 4} y={at[1] - 8} width="8" height="16" />,
    splice: <circle cx={at[0]} cy={at[1]} r="6" class="is-solid" />,
    stud: <path d={`M${at[0]} ${at[1] - 9}l8 5v9l-8 5l-8 -5v-9z`} />,
    terminal: <circle cx={at[0]} cy={at[1]} r="7" />,
    post: <><circle cx={at[0]} cy={at[1]} r="11" /><circle cx={at[0]} cy={at[1]} r="5" class="is-solid" /></>,
    contact: <circle cx={at[0]} cy={at[1]} r="4" />,
  };
  return (
    <g class={`d-point${point.restraint === true ? ' is-restraint' : ''}`}>
      {shape[point.kind]}
      <text x={at[0]} y={at[1] - 16}>{point.id}</text>
    </g>
  );
}
