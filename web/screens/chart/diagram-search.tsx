/** What the search knows, over the drawing: chance by width and pattern, tested parts, where the leads go next, the place along a wire. */
import { chanceWords } from '../../../server/session/fault-words.ts';
import type { SearchResult } from '../../../server/session/fault-search.ts';
import { wholePoint } from '../../../server/diagnosis/circuit/circuit.ts';
import type { ChartSpan } from '../../../server/session/chart.ts';
import { BAND_FROM, bandOf, chanceByPart, CHANCE_BANDS } from '../../chart/chances.ts';
import type { Layout, PlacedLink } from '../../chart/layout.ts';
import { pathOf, pieceOf, spotAt, type Spot } from '../../chart/wire-way.ts';
import { texts } from '../../texts.ts';
import { wayOf, x, y } from './diagram-places.ts';

const t = texts.search;

export type DiagramSearch = Pick<SearchResult, 'tested' | 'located'>;

/** The same in words, for those who don't see it; the table of faults says it in full. */
export function describeChances({ located }: DiagramSearch): string {
  const named = [...chanceByPart(located)].filter(([, chance]) => bandOf(chance, located.isFound) !== null).sort((a, b) => b[1] - a[1]);
  return named.length === 0 ? '' : t.diagramChances(named.map(([part, chance]) => `${part} ${chanceWords(chance)}`).join(', '));
}

/** The part with most of the chance, where readings say anything of it; null while they don't. */
export function likeliestLink(layout: Layout, { located }: DiagramSearch): PlacedLink | null {
  const chances = chanceByPart(located);
  const [most] = layout.links.filter(({ id }) => (chances.get(id) ?? 0) >= BAND_FROM.possible).sort((a, b) => (chances.get(b.id) ?? 0) - (chances.get(a.id) ?? 0));
  return most ?? null;
}

/** Drawn first, so that wires and words lie on it. */
export function ChancesUnder({ layout, search: { located } }: { layout: Layout; search: DiagramSearch }) {
  const chances = chanceByPart(located);
  return (
    <g aria-hidden="true">
      {layout.links.map((link) => {
        const chance = chances.get(link.id) ?? 0;
        const band = bandOf(chance, located.isFound);
        return band === null ? null : <path key={link.id} d={pathOf(wayOf(link))} class={`chance-line is-${band}`} data-part={link.id} />;
      })}
    </g>
  );
}

export function MarksOver({ layout, spans, search: { located, tested } }: { layout: Layout; spans: ReadonlyMap<string, ChartSpan>; search: DiagramSearch }) {
  const chances = chanceByPart(located);
  const { place, span } = located.distance ?? { place: null, span: null };
  const [next] = located.next;
  return (
    <g aria-hidden="true">
      {layout.links.map((link) => {
        const band = bandOf(chances.get(link.id) ?? 0, located.isFound);
        const test = tested.find(({ part }) => part === link.id);
        const { figure, mark } = wordsOf(link);
        return (
          <g key={link.id}>
            {band !== null && band !== 'little' && <text x={figure.x} y={figure.y} class="chance-figure">{chanceWords(chances.get(link.id) ?? 0)}</text>}
            {test !== undefined && <Tested x={mark.x} y={mark.y} verdict={test.verdict} take={test.take} />}
            {place !== null && span === link.id && <Place link={link} low={place.low} high={place.high} at={place.distance} length={spans.get(link.id)?.length ?? 0} />}
          </g>
        );
      })}
      {next !== undefined && layout.points.map((placed) => {
        const { id } = placed.point;
        const lead = wholePoint(next.leads.red) === id ? 'red' : wholePoint(next.leads.black) === id ? 'black' : null;
        return lead === null ? null : <Lead key={id} x={x(placed)} y={y(placed)} lead={lead} />;
      })}
    </g>
  );
}

/** Where the chance and the mark of a test are written: above and below the words of a wire; beside the fall of a bent one, where its words are not. */
function wordsOf(link: PlacedLink): { figure: Spot; mark: Spot } {
  const [first, second, third] = wayOf(link);
  if (third !== undefined && second !== undefined) {
    const middle = { x: second.x + 34, y: (second.y + third.y) / 2 };
    return { figure: { x: middle.x, y: middle.y - 8 }, mark: { x: middle.x, y: middle.y + 14 } };
  }
  const middle = { x: (x(link.from) + x(link.to)) / 2, y: first!.y };
  const isSpan = link.kind === 'span';
  // The mark keeps clear of a wire that goes down before the point at the end.
  return { figure: { x: middle.x, y: middle.y - (isSpan ? 36 : 22) }, mark: { x: middle.x - 18, y: middle.y + (isSpan ? 58 : 48) } };
}

/** A tip that points at the point from below, with its word. */
function Lead({ x: atX, y: atY, lead }: Spot & { lead: 'red' | 'black' }) {
  return (
    <g class={`d-lead is-${lead}`}>
      <path d={`M${atX} ${atY + 12}l8 15h-16z`} />
      <text x={atX} y={atY + 41}>{lead === 'red' ? t.redHere : t.blackHere}</text>
    </g>
  );
}

/** A shape for each verdict, and the take that it comes from. */
function Tested({ x: atX, y: atY, verdict, take }: Spot & { verdict: SearchResult['tested'][number]['verdict']; take: number }) {
  const at = atX - 16;
  return (
    <g class={`d-tested is-${verdict}`}>
      {verdict === 'pass' && <path d={`M${at - 5} ${atY - 4}l4 4l7 -8`} />}
      {verdict === 'fail' && <path d={`M${at - 5} ${atY - 9}l9 9M${at + 4} ${atY - 9}l-9 9`} />}
      {verdict === 'intermittent' && <path d={`M${at - 6} ${atY - 4}h4M${at + 2} ${atY - 4}h4`} />}
      {verdict === 'undecided' && <circle cx={at} cy={atY - 4} r="4" />}
      <text x={atX - 6} y={atY}>{texts.take.number(take).toLowerCase()}</text>
    </g>
  );
}

/** A cross at the place, and a bar over its range. */
function Place({ link, at, low, high, length }: { link: PlacedLink; at: number; low: number; high: number; length: number }) {
  if (!(length > 0)) return null;
  const way = wayOf(link);
  const spot = spotAt(way, at / length);
  return (
    <g class="d-place">
      <path d={pathOf(pieceOf(way, low / length, high / length))} class="d-place-range" />
      <path d={`M${spot.x - 7} ${spot.y - 7}l14 14M${spot.x + 7} ${spot.y - 7}l-14 14`} />
      <text x={spot.x} y={spot.y - 12}>{texts.chart.metres(Number(at.toFixed(2)))}</text>
    </g>
  );
}

/** What width, pattern and shapes mean. */
export function ChanceLegend({ hasPlace, hasNext }: { hasPlace: boolean; hasNext: boolean }) {
  return (
    <ul class="chance-legend" aria-label={t.legend}>
      {CHANCE_BANDS.map((band) => (
        <li key={band}>
          <svg width="44" height="26" viewBox="0 0 44 26" aria-hidden="true"><path d="M2 13H42" class={`chance-line is-${band}`} /><path d="M2 13H42" class="d-casing" /></svg>
          {t.bands[band]}
        </li>
      ))}
      {hasNext && <li><svg width="20" height="20" viewBox="0 0 20 20" aria-hidden="true"><g class="d-lead is-red"><path d="M10 2l7 14H3z" /></g></svg>{t.leadsHere}</li>}
      {hasPlace && <li><svg width="20" height="20" viewBox="0 0 20 20" aria-hidden="true"><g class="d-place"><path d="M3 3l14 14M17 3L3 17" /></g></svg>{t.placeMark}</li>}
    </ul>
  );
}
