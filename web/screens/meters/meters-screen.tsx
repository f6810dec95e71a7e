/** Meters: those that are read, the ports that one may hang on, and any other by its address. */
import { useState } from 'preact/hooks';
import { placeOf } from '../../../drivers/address.ts';
import { Flag } from '../../../drivers/reading.ts';
import type { LiveMeter, LivePorts } from '../../../server/live/protocol.ts';
import { request } from '../../actions.ts';
import { readingText } from '../../figures/reading-text.ts';
import { Control } from '../../parts/control.tsx';
import { StateDot } from '../../parts/glyphs.tsx';
import { judgedMeter, latest, live } from '../../state.ts';
import { texts } from '../../texts.ts';
import { CarryPanel } from './carry-panel.tsx';
import { FindingPanel } from './finding-panel.tsx';
import { LayoutsPanel } from './layouts-panel.tsx';
import { MeterForm } from './meter-form.tsx';
import { RATES } from './rates.ts';
import { TeachScreen } from './teach-screen.tsx';
import { findOut, teaching } from './teaching.ts';

export function MetersScreen() {
  const t = texts.meters;
  const state = live.value;
  if (state === null) return <section class="meters"><h1>{t.title}</h1><p>{texts.contact.connecting}</p></section>;
  const taught = state.meters.find(({ index }) => index === teaching.value);
  if (taught !== undefined) return <TeachScreen key={taught.index} meter={taught} />;
  return (
    <section class="meters">
      <h1>{t.title}</h1>
      <Control><ul class="meter-cards">{state.meters.map((meter) => <MeterCard key={meter.index} meter={meter} />)}</ul></Control>
      {state.meters.length === 0 && <p>{t.none}</p>}
      <Control>
        <FindingPanel />
        <Ports ports={state.ports} />
        <CarryPanel />
        <AnyAddress />
        <LayoutsPanel />
      </Control>
    </section>
  );
}

function MeterCard({ meter }: { meter: LiveMeter }) {
  const t = texts.meters;
  const { link, counts } = meter;
  const isJudged = meter.index === judgedMeter.value;
  const shown = latest.value.get(meter.index);
  const dot = link.state === 'open' ? 'good' : link.state === 'opening' ? 'waiting' : 'bad';
  return (
    <li class="meter-card">
      <div class="meter-card-head">
        <h2><StateDot state={dot} /> {meter.label}</h2>
        <b class="meter-card-reading">{shown === undefined ? '' : (shown.flags & Flag.overRange) !== 0 ? texts.reading.beyond : readingText(shown.quantity, shown.value, shown.resolution)}</b>
      </div>
      <p class="meter-card-address">{meter.address}</p>
      <p>{texts.contact.link[link.state]}{meter.playedAt !== undefined ? ` · ${t.played(meter.playedAt)}` : meter.simulated ? ` · ${t.simulated}` : ''} · {t.counts(counts.readings, counts.skipped)}</p>
      {link.message !== '' && <p class="form-error" role="alert">{link.message}</p>}
      <div class="meter-card-buttons">
        {isJudged
          ? <span class="tag">{t.judges}</span>
          : <button type="button" onClick={() => void request({ type: 'judge-by', meter: meter.index })}>{t.judgeBy}</button>}
        {!meter.simulated && <button type="button" onClick={() => findOut(meter.address)} aria-label={`${texts.finding.start}: ${meter.label}`}>{texts.finding.start}</button>}
        {!meter.simulated && <button type="button" onClick={() => (teaching.value = meter.index)} aria-label={`${texts.teach.open}: ${meter.label}`}>{texts.teach.open}</button>}
        <button type="button" onClick={() => void request({ type: 'detach-meter', meter: meter.index })} aria-label={`${t.detach}: ${meter.label}`}>{t.detach}</button>
      </div>
      <details>
        <summary>{texts.settings.meter}</summary>
        <MeterForm meter={meter} />
      </details>
    </li>
  );
}

function Ports({ ports: { ports, message } }: { ports: LivePorts }) {
  const t = texts.meters;
  const [baud, setBaud] = useState<number>(RATES[0]);
  const attached = new Set(live.value?.meters.map(({ address }) => placeOf(address)));
  const adapters = ports.filter((port) => port.isAdapter && !attached.has(placeOf(port.address)));
  const attach = (address: string) => request({ type: 'attach-meter', address: `${address}${address.includes('?') ? '&' : '?'}baud=${baud}` });
  return (
    <section class="meter-ports">
      <h2>{t.ports}</h2>
      {message !== '' && <p class="hint">{message}</p>}
      {adapters.length > 0 && (
        <label class="inline">{t.baud}
          <select value={baud} onChange={(event) => setBaud(Number(event.currentTarget.value))}>
            {RATES.map((rate) => <option key={rate} value={rate}>{rate}</option>)}
          </select>
        </label>
      )}
      {adapters.length === 0 ? message === '' && <p>{t.noPorts}</p> : (
        <ul>
          {adapters.map((port) => (
            <li key={port.path}>
              <span><b>{port.maker === '' ? port.path : port.maker}</b> <small>{port.path}{port.serialNumber === '' ? '' : ` · ${t.serialNumber} ${port.serialNumber}`}</small></span>
              <span class="meter-card-buttons">
                <button type="button" class="strong" onClick={() => findOut(port.address)} aria-label={`${texts.finding.start}: ${port.path}`}>{texts.finding.start}</button>
                <button type="button" onClick={() => void attach(port.address)} aria-label={`${t.attach}: ${port.path}`}>{t.attach}</button>
              </span>
            </li>
          ))}
        </ul>
      )}
    </section>
  );
}

function AnyAddress() {
  const t = texts.meters;
  const [address, setAddress] = useState('');
  const submit = (event: SubmitEvent): void => {
    event.preventDefault();
    void request({ type: 'attach-meter', address: address.trim() }).then((isDone) => isDone && setAddress(''));
  };
  return (
    <form class="meter-address" onSubmit={submit}>
      <h2>{t.other}</h2>
      <label>{t.address}
        <input value={address} required maxLength={1000} placeholder="serial:/dev/ttyUSB0?baud=9600" onInput={(event) => setAddress(event.currentTarget.value)} />
      </label>
      <p class="hint">{t.addressWhy}</p>
      <ul class="hint">{t.examples.map(([example, meaning]) => <li key={example}><code>{example}</code> {meaning}</li>)}</ul>
      <div class="meter-card-buttons">
        <button type="submit">{t.attach}</button>
        <button type="button" disabled={address.trim() === ''} onClick={() => findOut(address.trim())}>{texts.finding.start}</button>
      </div>
    </form>
  );
}
