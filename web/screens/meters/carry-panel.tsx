/** A meter on this very device: chosen through the browser, forwarded by this page. */
import { useEffect, useState } from 'preact/hooks';
import { followAvailability } from '../../carry/availability.ts';
import { chooseBluetooth } from '../../carry/bluetooth-port.ts';
import { PortTrouble } from '../../carry/byte-port.ts';
import { carry } from '../../carry/carrier.ts';
import type { Hindrance, Way } from '../../carry/hindrance.ts';
import { chooseSerial, type SerialSettings } from '../../carry/serial-port.ts';
import { fullUuid, type UartService } from '../../carry/uart-services.ts';
import { RequestFailed } from '../../live/index.ts';
import { notice } from '../../state.ts';
import { texts } from '../../texts.ts';
import { RATES } from './rates.ts';

const WAYS = ['bluetooth', 'serial'] as const;
const FRAMINGS = { '8N1': [8, 'none', 1], '7E1': [7, 'even', 1], '7O1': [7, 'odd', 1], '8E1': [8, 'even', 1], '8O1': [8, 'odd', 1], '8N2': [8, 'none', 2] } as const;
const LEVELS = { system: null, on: true, off: false } as const;

export function CarryPanel() {
  const t = texts.carry;
  const [hindrances, setHindrances] = useState<Partial<Record<Way, Hindrance | null>>>({});
  const [isBusy, setBusy] = useState(false);
  const [error, setError] = useState('');
  useEffect(() => {
    const ends = WAYS.map((way) => followAvailability(way, (hindrance) => setHindrances((known) => ({ ...known, [way]: hindrance }))));
    return () => ends.forEach((end) => end());
  }, []);

  const begin = async (way: Way, form: HTMLFormElement): Promise<void> => {
    setError('');
    try {
      const data = new FormData(form);
      const choose = way === 'bluetooth' ? chooseBluetooth(typedService(data)) : chooseSerial(typedSettings(data));
      setBusy(true);
      const port = await choose;
      const name = String(data.get('name') ?? '').trim() || port.name || t.names[way];
      const options = String(data.get('options') ?? '').trim();
      setHindrances((known) => ({ ...known, [way]: null }));
      await carry(port, `browser:${encodeURIComponent(name)}${options === '' ? '' : `?${options}`}`, name);
      notice.value = null;
    } catch (cause) {
      if (!(cause instanceof PortTrouble) && !(cause instanceof RequestFailed)) throw cause;
      setError(cause.message);
    } finally {
      setBusy(false);
    }
  };

  return (
    <form class="carry-panel" onSubmit={(event) => event.preventDefault()}>
      <h2>{t.title}</h2>
      <p class="hint">{t.why}</p>
      <div class="meter-card-buttons">
        {WAYS.map((way) => (
          <button key={way} type="button" class="strong" disabled={isBusy || hindrances[way] === 'insecure' || hindrances[way] === 'missing'} onClick={(event) => void begin(way, event.currentTarget.form!)}>{t.choose[way]}</button>
        ))}
      </div>
      <p role="status">{isBusy ? t.connecting : ''}</p>
      {error !== '' && <p class="form-error" role="alert">{error}</p>}
      {WAYS.map((way) => {
        const hindrance = hindrances[way];
        return hindrance !== undefined && hindrance !== null && <p key={way} class="hint">{t.hindrances[way][hindrance]}</p>;
      })}
      <details>
        <summary>{t.settings}</summary>
        <div class="setting fields">
          <label>{t.name}<input name="name" maxLength={60} /></label>
          <label>{t.options}<input name="options" maxLength={400} placeholder="decoder=frame&layout=…" /></label>
          <p class="hint">{t.optionsWhy}</p>
          <h3>{t.names.bluetooth}</h3>
          <label>{t.service}<input name="service" maxLength={40} placeholder="ffe0" /></label>
          <label>{t.notify}<input name="notify" maxLength={40} /></label>
          <label>{t.write}<input name="write" maxLength={40} /></label>
          <p class="hint">{t.uuidWhy}</p>
          <h3>{t.names.serial}</h3>
          <label>{texts.meters.baud}<select name="baud">{RATES.map((rate) => <option key={rate} value={rate}>{rate}</option>)}</select></label>
          <label>{t.framing}<select name="framing">{Object.keys(FRAMINGS).map((framing) => <option key={framing} value={framing}>{framing}</option>)}</select></label>
          {(['dtr', 'rts'] as const).map((line) => (
            <label key={line}>{t.lines[line]}
              <select name={line}>{(['system', 'on', 'off'] as const).map((level) => <option key={level} value={level}>{t.levels[level]}</option>)}</select>
            </label>
          ))}
          <p class="hint">{t.linesWhy}</p>
        </div>
      </details>
    </form>
  );
}

/** @throws {PortTrouble} BAD_UUID */
function typedService(data: FormData): UartService | null {
  const uuid = (name: string): string | null => {
    const text = String(data.get(name) ?? '').trim();
    if (text === '') return null;
    const full = fullUuid(text);
    if (full === null) throw new PortTrouble('BAD_UUID', texts.carry.trouble.badUuid(text));
    return full;
  };
  const service = uuid('service');
  const notify = uuid('notify');
  const write = uuid('write');
  if (service !== null) return { service, ...(notify === null ? {} : { notify }), ...(write === null ? {} : { write }) };
  if (notify !== null || write !== null) throw new PortTrouble('BAD_UUID', texts.carry.trouble.needsService);
  return null;
}

function typedSettings(data: FormData): SerialSettings {
  const [dataBits, parity, stopBits] = FRAMINGS[String(data.get('framing')) as keyof typeof FRAMINGS];
  const level = (name: string) => LEVELS[String(data.get(name)) as keyof typeof LEVELS];
  return { baud: Number(data.get('baud')), dataBits, parity, stopBits, dtr: level('dtr'), rts: level('rts') };
}
