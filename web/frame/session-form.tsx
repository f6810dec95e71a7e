/** What is known of the session: all of it can be left out, added later, and never overwrites unseen what somebody else wrote meanwhile. */
import { useRef, useState } from 'preact/hooks';
import { request } from '../actions.ts';
import { SYSTEM_VOLTAGES } from '../../server/session/limits.ts';
import type { SessionInfo } from '../../server/session/session.ts';
import { typedNumber } from '../check-words.ts';
import { Icon } from '../parts/glyphs.tsx';
import { live } from '../state.ts';
import { texts } from '../texts.ts';
import { clashes, ownChanges } from './own-changes.ts';

const t = texts.session;

type Fields = Required<Pick<SessionInfo, 'title' | 'vehicle' | 'complaint' | 'codes' | 'facts' | 'ambient' | 'systemVoltage'>>;
type Name = keyof Fields;

const fieldsOf = ({ title, vehicle, complaint, codes = [], facts = '', ambient = null, systemVoltage = null }: SessionInfo): Fields =>
  ({ title, vehicle, complaint, codes, facts, ambient, systemVoltage });

/** As it stands in the form. */
function fieldText(name: Name, fields: Fields): string {
  const value = fields[name];
  return value === null ? '' : Array.isArray(value) ? value.join(', ') : String(value);
}

/** @throws {RangeError} for a temperature that is no number */
function typedFields(form: HTMLFormElement, before: Fields): Fields {
  const data = new FormData(form);
  const text = (name: Name) => String(data.get(name) ?? '').trim();
  return {
    title: text('title'), vehicle: text('vehicle'), complaint: text('complaint'), facts: text('facts'),
    codes: text('codes').split(/[\s,;]+/).filter((code) => code !== ''), ambient: typedNumber(text('ambient')),
    systemVoltage: data.has('systemVoltage') ? SYSTEM_VOLTAGES.find((volts) => String(volts) === text('systemVoltage')) ?? null : before.systemVoltage,
  };
}

function show(form: HTMLFormElement, fields: Fields): void {
  for (const name of Object.keys(fields) as Name[]) {
    const field = form.elements.namedItem(name);
    if (field instanceof HTMLInputElement || field instanceof HTMLTextAreaElement || field instanceof HTMLSelectElement) field.value = fieldText(name, fields);
  }
}

export function SessionForm() {
  const [isSaved, setSaved] = useState(false);
  const [error, setError] = useState('');
  const [clashing, setClashing] = useState<readonly Name[]>([]);
  const form = useRef<HTMLFormElement>(null);
  const { session: info, system, chart } = live.value!;
  /** What the form was filled from: only what was typed since is sent. */
  const before = useRef(fieldsOf(info));
  // A chart says of which system it is.
  const hasChart = chart.name !== null;

  const save = async (): Promise<void> => {
    const now = fieldsOf(live.value!.session);
    const own = ownChanges(before.current, typedFields(form.current!, before.current));
    const found = clashes(before.current, now, own);
    setClashing(found);
    if (found.length > 0 || !(await request({ type: 'describe', basedOn: live.value!.sessionRevision, ...own }))) return;
    before.current = { ...now, ...own };
    show(form.current!, before.current);
    setSaved(true);
  };
  const submit = (event: SubmitEvent): void => {
    event.preventDefault();
    setError('');
    save().catch((cause: unknown) => {
      if (!(cause instanceof RangeError)) throw cause;
      setError(texts.check.badNumber);
    });
  };
  const takeTheirs = (): void => {
    before.current = fieldsOf(live.value!.session);
    const own = Object.fromEntries(Object.entries(typedFields(form.current!, before.current)).filter(([name]) => !clashing.includes(name as Name))) as Partial<Fields>;
    show(form.current!, { ...before.current, ...own });
    setClashing([]);
  };
  const keepMine = (): void => {
    before.current = fieldsOf(live.value!.session);
    form.current!.requestSubmit();
  };
  const labels: Record<Name, string> = { title: t.name, vehicle: t.vehicle, complaint: t.complaint, codes: t.codes, facts: t.facts, ambient: t.ambient, systemVoltage: t.system };
  return (
    <form ref={form} class="setting fields" onSubmit={submit} onInput={() => setSaved(false)}>
      <label>{t.name}<input name="title" maxLength={200} defaultValue={info.title} /></label>
      <label>{t.vehicle}<input name="vehicle" maxLength={200} defaultValue={info.vehicle} /></label>
      <label class="wide">{t.complaint}<textarea name="complaint" maxLength={2000} defaultValue={info.complaint} /></label>
      <label>{t.codes}<input name="codes" defaultValue={fieldText('codes', before.current)} /></label>
      <label>{t.ambient}<input name="ambient" inputMode="decimal" defaultValue={fieldText('ambient', before.current)} /></label>
      {!hasChart && (
        <label>{t.system}
          <select name="systemVoltage" defaultValue={fieldText('systemVoltage', before.current)}>
            <option value="">{t.systemFrom[system.from === 'said' ? 'assumed' : system.from](system.volts)}</option>
            {SYSTEM_VOLTAGES.map((volts) => <option key={volts} value={volts}>{volts} V</option>)}
          </select>
        </label>
      )}
      <label class="wide">{t.facts}<textarea name="facts" maxLength={4000} defaultValue={info.facts ?? ''} /></label>
      {error !== '' && <p class="form-error" role="alert">{error}</p>}
      {clashing.length > 0 && (
        <div class="caution is-warning wide" role="alert">
          <Icon name="caution" />
          <div>
            <p>{t.clash}</p>
            <ul>{clashing.map((name) => <li key={name}>{labels[name]}: <b>{fieldText(name, fieldsOf(info)) || t.nothing}</b></li>)}</ul>
            <div class="row"><button type="button" onClick={keepMine}>{t.keepMine}</button> <button type="button" onClick={takeTheirs}>{t.takeTheirs}</button></div>
          </div>
        </div>
      )}
      <button type="submit">{t.save}</button> <span role="status">{isSaved ? t.saved : ''}</span>
    </form>
  );
}
