/** Which column of a table is what: the times and how they are written, the readings and their units, the flags. */
import { TIME_FORMATS, ZONES, type ImportPlan } from '../../../../server/live/library-protocol.ts';
import { typedNumber } from '../../../check-words.ts';
import { texts } from '../../../texts.ts';

const t = texts.shelf;
/** Times that begin nowhere in particular, or name their zone. */
const WITHOUT_ZONE = ['s', 'ms', 'us', 'ns', 'minutes', 'unix-s', 'unix-ms', 'unix-us', 'clock'];

interface Props {
  readonly heading: readonly string[];
  readonly plan: ImportPlan;
  readonly onChange: (part: Partial<ImportPlan>) => void;
}

export function ImportColumns({ heading, plan, onChange }: Props) {
  const { time } = plan;
  const setTime = (part: Partial<NonNullable<ImportPlan['time']>>) => onChange({ time: { column: 0, format: 's', dateColumn: null, zone: 'local', ...time, ...part } });
  const toggle = (column: number, isOn: boolean) => onChange({
    values: isOn ? [...plan.values, { column, unit: '', label: heading[column] ?? '' }] : plan.values.filter((value) => value.column !== column),
  });
  return (
    <>
      <div class="import-pairs">
        <ColumnChoice label={t.time} none={t.noTime} heading={heading} column={time?.column ?? null} onChoose={(column) => (column === null ? onChange({ time: null }) : setTime({ column }))} />
        {time === null
          ? <label>{t.interval}<input inputMode="decimal" required onInput={(event) => onChange({ interval: numberOrNull(event.currentTarget.value) })} /></label>
          : (
            <label>{t.timeFormat}
              <select value={time.format} onChange={(event) => setTime({ format: event.currentTarget.value as (typeof TIME_FORMATS)[number] })}>
                {TIME_FORMATS.map((format) => <option key={format} value={format}>{t.timeFormats[format]}</option>)}
              </select>
            </label>
          )}
        {time !== null && <ColumnChoice label={t.date} none={t.noColumn} heading={heading} column={time.dateColumn} onChoose={(dateColumn) => setTime({ dateColumn })} />}
        {time !== null && !WITHOUT_ZONE.includes(time.format) && (
          <label>{t.zone}
            <select value={time.zone} onChange={(event) => setTime({ zone: event.currentTarget.value as (typeof ZONES)[number] })}>
              {ZONES.map((zone) => <option key={zone} value={zone}>{t.zones[zone]}</option>)}
            </select>
          </label>
        )}
        <ColumnChoice label={t.unitColumn} none={t.noColumn} heading={heading} column={plan.unitColumn} onChoose={(unitColumn) => onChange({ unitColumn })} />
        <ColumnChoice label={t.flagColumn} none={t.noColumn} heading={heading} column={plan.flagColumn} onChoose={(flagColumn) => onChange({ flagColumn })} />
      </div>
      <fieldset class="import-values">
        <legend>{t.values}</legend>
        {heading.map((name, index) => ({ name, index })).filter(({ index }) => index !== time?.column && index !== time?.dateColumn).map(({ name, index }) => {
          const value = plan.values.find(({ column }) => column === index);
          return (
            <div key={index}>
              <label class="switch"><input type="checkbox" checked={value !== undefined} onChange={(event) => toggle(index, event.currentTarget.checked)} /> {name}</label>
              {value !== undefined && (
                <input
                  aria-label={t.unit(name)} placeholder="V" value={value.unit} maxLength={20}
                  onInput={(event) => onChange({ values: plan.values.map((one) => (one === value ? { ...one, unit: event.currentTarget.value } : one)) })}
                />
              )}
            </div>
          );
        })}
      </fieldset>
    </>
  );
}

interface ChoiceProps {
  readonly label: string;
  readonly none: string;
  readonly heading: readonly string[];
  readonly column: number | null;
  readonly onChoose: (column: number | null) => void;
}

function ColumnChoice({ label, none, heading, column, onChoose }: ChoiceProps) {
  return (
    <label>{label}
      <select value={column ?? ''} onChange={(event) => onChoose(event.currentTarget.value === '' ? null : Number(event.currentTarget.value))}>
        <option value="">{none}</option>
        {heading.map((name, index) => <option key={index} value={index}>{name}</option>)}
      </select>
    </label>
  );
}

/** Null for what is no number. */
export function numberOrNull(text: string): number | null {
  try {
    return typedNumber(text);
  } catch {
    return null;
  }
}
