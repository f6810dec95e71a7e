/** How an imported take is to be judged: what was checked, how it was watched, the limits, and what the meter promises. */
import { CHECK_KINDS, WATCHINGS, type CheckKind, type Watching } from '../../../../server/diagnosis/judgement.ts';
import type { ImportRequest } from '../../../../server/live/library-protocol.ts';
import { texts } from '../../../texts.ts';
import { numberOrNull } from './import-columns.tsx';

interface Judging {
  readonly kind: CheckKind | '';
  readonly watching: Watching;
  /** As typed. */
  readonly low: string;
  readonly high: string;
  readonly percent: string;
  readonly counts: string;
}

export const JUDGING: Judging = { kind: '', watching: 'wiggle', low: '', high: '', percent: '', counts: '' };

export function importOptions({ kind, watching, low, high, percent, counts }: Judging): ImportRequest['options'] {
  const [fraction, count] = [numberOrNull(percent), numberOrNull(counts)];
  return {
    watching, limits: { low: numberOrNull(low), high: numberOrNull(high) },
    accuracy: fraction === null && count === null ? null : { fraction: (fraction ?? 0) / 100, counts: count ?? 0 },
    ...(kind === '' ? {} : { kind }),
  };
}

export function ImportJudging({ judging, onChange }: { judging: Judging; onChange: (part: Partial<Judging>) => void }) {
  const t = texts.shelf;
  return (
    <fieldset class="import-judging">
      <legend>{t.judging}</legend>
      <div class="import-pairs">
        <label>{texts.check.kind}
          <select value={judging.kind} onChange={(event) => onChange({ kind: event.currentTarget.value as CheckKind | '' })}>
            <option value="">{t.byQuantity}</option>
            {CHECK_KINDS.map((one) => <option key={one} value={one}>{texts.check.kinds[one]}</option>)}
          </select>
        </label>
        <label>{t.watched}
          <select value={judging.watching} onChange={(event) => onChange({ watching: event.currentTarget.value as Watching })}>
            {WATCHINGS.map((one) => <option key={one} value={one}>{texts.watching.names[one]}</option>)}
          </select>
        </label>
        {(['low', 'high', 'percent', 'counts'] as const).map((name) => (
          <label key={name}>{t.judgingFields[name]}<input inputMode="decimal" value={judging[name]} onInput={(event) => onChange({ [name]: event.currentTarget.value })} /></label>
        ))}
      </div>
      <p class="hint">{t.withoutAccuracy}</p>
    </fieldset>
  );
}
