/** The place along the wire: offered where a short to ground or too much resistance is likely. */
import { useState } from 'preact/hooks';
import type { DistanceReadings, ShownFigure } from '../../../../server/session/case-distance.ts';
import type { Chart } from '../../../../server/session/chart.ts';
import { acknowledge, request } from '../../../actions.ts';
import { readingText } from '../../../figures/reading-text.ts';
import { shownFigure } from '../../../figures/shown-figure.ts';
import { Choice } from '../../../parts/choice.tsx';
import { Icon } from '../../../parts/glyphs.tsx';
import { faultSearch } from '../../../state.ts';
import { texts } from '../../../texts.ts';

const t = texts.search.distance;
type Method = DistanceReadings['method'];
const METHODS = ['both-ends', 'current', 'drops'] as const satisfies readonly Method[];
/** A fault of a kind that has a place is worth it from this chance on. */
const WORTH_IT = 0.2;

export function DistancePanel({ chart }: { chart: Chart }) {
  const result = faultSearch.value?.result ?? null;
  if (result === null) return null;
  const { faults, distance } = result.located;
  const likely = faults.find(({ kind, chance, at }) => chance >= WORTH_IT && (kind === 'short-to-ground' || kind === 'high-resistance') && chart.spans.some(({ id }) => id === at));
  if (distance === null && likely === undefined) return null;
  return (
    <details class="search-distance" open={distance !== null || result.located.isFound}>
      <summary><h3>{t.title}</h3></summary>
      <p class="hint">{t.why}</p>
      {distance !== null && <Found />}
      <DistanceForm chart={chart} span={distance?.span ?? likely?.at ?? ''} method={likely?.kind === 'high-resistance' ? 'drops' : 'both-ends'} />
    </details>
  );
}

function Found() {
  const distance = faultSearch.value!.result!.located.distance!;
  return (
    <div class="distance-found" role="status">
      <p class="search-words">{distance.span !== null && distance.place !== null ? `${distance.span}: ` : ''}{distance.words}</p>
      {distance.doubts.map((doubt) => <p key={doubt} class="distance-doubt"><Icon name="caution" /> {t.doubt(doubt)}</p>)}
      {distance.excess.length > 0 && (
        <table>
          <thead><tr><th scope="col">{t.span2}</th><th scope="col">{t.excess}</th><th scope="col">{t.range}</th><th scope="col"><span class="sr-only">{texts.verdict.label}</span></th></tr></thead>
          <tbody>
            {distance.excess.map(({ at, excess, uncertainty, isBad }) => (
              <tr key={at}><th scope="row">{at}</th><td>{readingText('resistance', excess, 0.001)}</td><td>{readingText('resistance', 2 * uncertainty, 0.001)}</td><td>{isBad ? t.bad : t.fine}</td></tr>
            ))}
          </tbody>
        </table>
      )}
      <p class="hint">{distance.basis}</p>
      <button type="button" onClick={() => void request({ type: 'read-distance', distance: null })}>{t.forget}</button>
    </div>
  );
}

type FieldName = 'fromFirst' | 'fromSecond' | 'endToEnd' | 'amps' | 'atFirst' | 'atSecond' | 'endToEndVolts';

function DistanceForm({ chart, span: likely, method: usual }: { chart: Chart; span: string; method: Method }) {
  const [method, setMethod] = useState<Method>(usual);
  const [name, setName] = useState(likely);
  const [typed, setTyped] = useState<Partial<Record<FieldName, string>>>({});
  const [error, setError] = useState('');
  const span = chart.spans.find(({ id }) => id === name) ?? chart.spans[0];
  const { caution } = faultSearch.value!;
  if (span === undefined) return null;
  const fields: readonly (readonly [FieldName, string])[] = method === 'both-ends'
    ? [['fromFirst', t.fromFirst(span.from)], ['fromSecond', t.fromSecond(span.to)], ['endToEnd', t.endToEnd]]
    : method === 'current'
      ? [['amps', t.amps], ['atFirst', t.atFirst(span.from)], ['atSecond', t.atSecond(span.to)], ['endToEndVolts', t.endToEndVolts]]
      : [['amps', t.amps]];
  const submit = (event: Event): void => {
    event.preventDefault();
    const readings = readingsFrom(method, span.id, typed);
    if (typeof readings === 'string') setError(readings);
    else if (method === 'current' && !caution.isAcknowledged) setError(t.readCaution);
    else void request({ type: 'read-distance', distance: readings }).then(() => setError(''));
  };
  return (
    <form class="distance-form" onSubmit={submit}>
      <Choice name="distance-method" label={t.method} options={METHODS} value={method} text={(own) => t.methods[own]} onChoose={setMethod} />
      <p class="hint">{t.how[method]}</p>
      {method === 'current' && !caution.isAcknowledged && (
        <div class="caution" role="note" aria-label={texts.check.cautions}>
          <Icon name="caution" /><p>{caution.text}</p>
          <button type="button" onClick={() => void acknowledge(caution.id)}>{texts.check.understood}</button>
        </div>
      )}
      {method !== 'drops' && (
        <label>{t.span}<select value={span.id} onChange={(e) => setName(e.currentTarget.value)}>{chart.spans.map(({ id }) => <option key={id} value={id}>{id}</option>)}</select></label>
      )}
      <div class="distance-fields">
        {fields.map(([field, label]) => (
          <label key={field}>{label}<input inputMode="decimal" value={typed[field] ?? ''} onInput={(e) => setTyped({ ...typed, [field]: e.currentTarget.value })} /></label>
        ))}
      </div>
      {error !== '' && <p class="form-error" role="alert">{error}</p>}
      <button type="submit" class="strong">{t.use}</button>
    </form>
  );
}

/** @returns a sentence where something is missing */
function readingsFrom(method: Method, span: string, typed: Partial<Record<FieldName, string>>): DistanceReadings | string {
  try {
    const read = (field: FieldName): ShownFigure | null => shownFigure(typed[field] ?? '');
    const amps = read('amps');
    if (method === 'drops') return amps === null ? t.missing : { method, amps };
    if (method === 'current') {
      const [atFirst, atSecond] = [read('atFirst'), read('atSecond')];
      return amps === null || atFirst === null || atSecond === null ? t.missing : { method, span, amps, atFirst, atSecond, endToEndVolts: read('endToEndVolts') };
    }
    const [fromFirst, fromSecond] = [read('fromFirst'), read('fromSecond')];
    return fromFirst === null || fromSecond === null ? t.missing : { method, span, fromFirst, fromSecond, endToEnd: read('endToEnd') };
  } catch (cause) {
    if (!(cause instanceof RangeError)) throw cause;
    return t.badNumber;
  }
}
