/** What is known of one meter: name, accuracy by range, leads, timing, calibration, isolation; and what it shows of itself. */
import { useRef, useState } from 'preact/hooks';
import type { LiveMeter } from '../../../server/live/protocol.ts';
import { profileOf, type MeterProfile } from '../../../server/session/meter-profile.ts';
import { request } from '../../actions.ts';
import { typedNumber } from '../../check-words.ts';
import { readingText } from '../../figures/reading-text.ts';
import { durationText } from '../../figures/time-text.ts';
import { ask, RequestFailed } from '../../live/index.ts';
import { rangesOf, rowsOf, type AccuracyCell, type AccuracyRow } from '../../meters/accuracy-rows.ts';
import { latest, notice } from '../../state.ts';
import { texts } from '../../texts.ts';
import { AccuracyTable } from './accuracy-table.tsx';
import { AperturePanel } from './aperture-panel.tsx';
import { ProfileFile } from './profile-file.tsx';

const ISOLATED = { yes: true, no: false, unknown: null } as const;
/** A plain hand-held meter that nobody has the manual of (common practice, no source). */
const ASSUMED = { percent: '1', counts: '5' } as const;

/** A profile read from a file takes the place of what was typed. */
export function MeterForm({ meter }: { meter: LiveMeter }) {
  const [read, setRead] = useState<{ readonly profile: MeterProfile; readonly number: number }>({ profile: {}, number: 0 });
  const known = read.number === 0 ? profileOf(meter) : { ...profileOf(meter), ...read.profile };
  return <ProfileForm key={read.number} meter={meter} known={known} isFromFile={read.number > 0} onRead={(profile) => setRead({ profile, number: read.number + 1 })} />;
}

interface Props {
  readonly meter: LiveMeter;
  /** What the fields begin with. */
  readonly known: MeterProfile;
  readonly isFromFile: boolean;
  readonly onRead: (profile: MeterProfile) => void;
}

function ProfileForm({ meter, known, isFromFile, onRead }: Props) {
  const t = texts.settings;
  const m = texts.meters;
  const p = texts.profile;
  const form = useRef<HTMLFormElement>(null);
  const [rows, setRows] = useState<readonly AccuracyRow[]>(() => rowsOf(known.ranges ?? []));
  const [problem, setProblem] = useState<{ row: number; cell: AccuracyCell } | null>(null);
  const [error, setError] = useState('');
  const [said, setSaid] = useState(isFromFile ? p.readFromFile : '');
  const [isAssumed, setAssumed] = useState(known.accuracy?.isAssumed === true);

  const fill = (name: string, text: string): void => {
    const field = form.current?.elements.namedItem(name);
    if (field instanceof HTMLInputElement) field.value = text;
    setSaid('');
  };
  const submit = (event: SubmitEvent): void => {
    event.preventDefault();
    const data = new FormData(event.currentTarget as HTMLFormElement);
    const text = (name: string) => String(data.get(name) ?? '').trim();
    const number = (name: string) => typedNumber(text(name));
    const lines = rangesOf(rows);
    setProblem(lines.kind === 'problem' ? lines : null);
    if (lines.kind === 'problem') return setError(p.badCell(lines.row + 1, p.cells[lines.cell]));
    try {
      const percent = number('percent');
      const counts = number('counts');
      setError('');
      void request({
        type: 'describe-meter', meter: meter.index, label: text('label') || meter.label, calibrated: text('calibrated'),
        accuracy: percent === null && counts === null ? null : { fraction: Number(`${percent ?? 0}e-2`), counts: counts ?? 0, ...(isAssumed ? { isAssumed } : {}) },
        ranges: lines.ranges, displayCounts: number('displayCounts'),
        leadOhms: number('leadOhms'), interval: number('interval'), aperture: number('aperture'),
        isolated: ISOLATED[text('isolated') as keyof typeof ISOLATED] ?? null,
      }).then((isDone) => setSaid(isDone ? t.saved : ''));
    } catch (cause) {
      if (!(cause instanceof RangeError)) throw cause;
      setError(texts.check.badNumber);
    }
  };
  const nullLeads = async (): Promise<void> => {
    try {
      const ohms = (await ask({ type: 'null-leads', meter: meter.index })) as number;
      fill('leadOhms', text(ohms));
      setSaid(p.nulled(readingText('resistance', ohms, 0.001)));
    } catch (cause) {
      if (!(cause instanceof RequestFailed)) throw cause;
      notice.value = { kind: 'trouble', text: cause.message };
    }
  };
  const { interval, resolution, noise, largestShown } = meter.measured;
  const quantity = latest.value.get(meter.index)?.quantity ?? 'unknown';
  return (
    <form class="setting fields profile" ref={form} onSubmit={submit} onInput={() => setSaid('')}>
      <p class="hint">{t.meterWhy}</p>
      <label>{m.label}<input name="label" maxLength={100} defaultValue={known.label} /></label>
      <label>{m.calibrated}<input name="calibrated" maxLength={40} placeholder="2026-11-25" defaultValue={known.calibrated ?? ''} /></label>
      <label>{p.displayCounts}<input name="displayCounts" inputMode="numeric" placeholder="6000" defaultValue={text(known.displayCounts)} />
        <Measured text={largestShown === null ? '' : p.largestShown(largestShown)} /></label>
      <p class="measured-now wide">{resolution === null ? '' : p.oneCount(readingText(quantity, resolution, resolution))}{noise === null ? '' : ` ${p.noise(readingText(quantity, noise, resolution === null ? noise / 100 : resolution / 100))}`}</p>
      <AccuracyTable rows={rows} problem={problem} onChange={(next) => { setRows(next); setProblem(null); setSaid(''); }} />
      <fieldset class="wide accuracy-everywhere">
        <legend>{rows.length === 0 ? p.everywhere : p.elsewhere}</legend>
        <label>{p.cells.percent}<input name="percent" inputMode="decimal" defaultValue={text(known.accuracy ? known.accuracy.fraction * 100 : null)} onInput={() => setAssumed(false)} /></label>
        <label>{p.cells.counts}<input name="counts" inputMode="decimal" defaultValue={text(known.accuracy?.counts)} onInput={() => setAssumed(false)} /></label>
        {isAssumed ? <span class="tag">{p.assumed}</span> : (
          <button type="button" onClick={() => { fill('percent', ASSUMED.percent); fill('counts', ASSUMED.counts); setAssumed(true); }}>{p.assume(ASSUMED.percent, ASSUMED.counts)}</button>
        )}
      </fieldset>
      <label>{t.interval}<input name="interval" inputMode="decimal" defaultValue={text(known.interval)} />
        <Measured text={interval === null ? '' : p.measuredNow(durationText(interval))} /></label>
      <label>{t.aperture}<input name="aperture" inputMode="decimal" defaultValue={text(known.aperture)} /></label>
      <AperturePanel meter={meter} onUse={(aperture) => fill('aperture', text(aperture))} />
      <label>{t.leadOhms}<input name="leadOhms" inputMode="decimal" defaultValue={text(known.leadOhms)} />
        <Measured text={known.leadsNulled === undefined || known.leadsNulled === '' ? '' : p.nulledOn(known.leadsNulled)} /></label>
      <div>
        <button type="button" onClick={() => void nullLeads()}>{m.nullLeads}</button>
        <p class="hint">{m.nullHow}</p>
      </div>
      <label class="wide">{m.isolated}
        <select name="isolated" defaultValue={known.isolated === true ? 'yes' : known.isolated === false ? 'no' : 'unknown'}>
          {(['unknown', 'yes', 'no'] as const).map((choice) => <option key={choice} value={choice}>{m.isolatedChoices[choice]}</option>)}
        </select>
      </label>
      <p class="hint wide">{m.isolatedWhy}</p>
      {error !== '' && <p class="form-error" role="alert">{error}</p>}
      <div class="wide meter-card-buttons"><button type="submit" class="strong">{t.save}</button> <span role="status">{said}</span></div>
      <ProfileFile meter={meter} onRead={onRead} />
    </form>
  );
}

function Measured({ text: shown }: { text: string }) {
  return shown === '' ? null : <small class="measured-now">{shown}</small>;
}

function text(value: number | null | undefined): string {
  return value === null || value === undefined ? '' : String(Number(value.toPrecision(6)));
}
