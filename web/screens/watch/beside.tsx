/** Further meters on the same circuit: which points the leads of each touch. Shown where there is more than one meter. */
import { useState } from 'preact/hooks';
import type { LiveMeter } from '../../../server/live/protocol.ts';
import { request } from '../../actions.ts';
import { readingText } from '../../figures/reading-text.ts';
import { judgedMeter, latest, live } from '../../state.ts';
import { texts } from '../../texts.ts';

const t = texts.several;

export function Beside() {
  const { meters, watching, reference, beside, points } = live.value!;
  const others = meters.filter(({ index }) => index !== judgedMeter.value && index !== reference.meter);
  if (watching === 'spot' || others.length === 0) return null;
  return (
    <section class="beside" aria-label={t.beside}>
      <datalist id="beside-points">{points.map((point) => <option key={point} value={point} />)}</datalist>
      {others.map((meter) => <OneMeter key={meter.index} meter={meter} />)}
      {beside.message !== '' && <p class="hint">{beside.message}</p>}
    </section>
  );
}

function OneMeter({ meter }: { meter: LiveMeter }) {
  const { beside, take, check } = live.value!;
  const leads = beside.meters.find((one) => one.meter === meter.index);
  const [draft, setDraft] = useState({ red: '', black: '' });
  const shown = latest.value.get(meter.index);
  const name = meter.label === '' ? t.number(meter.index + 1) : meter.label;
  const black = draft.black === '' ? check.black : draft.black;
  return (
    <form class="beside-meter" onSubmit={(event) => { event.preventDefault(); void request({ type: 'watch-beside', meter: meter.index, leads: { red: draft.red.trim(), black: black.trim() } }); }}>
      <p><b>{name}</b> <output aria-live="off">{shown === undefined ? '' : readingText(shown.quantity, shown.value, shown.resolution)}</output></p>
      {leads !== undefined ? (
        <>
          <p>{t.touches(leads.red, leads.black)}</p>
          {take === null && <button type="button" onClick={() => void request({ type: 'watch-beside', meter: meter.index, leads: null })}>{t.noLonger}</button>}
        </>
      ) : take === null ? (
        <>
          <label>{t.red}<input list="beside-points" required value={draft.red} onInput={(e) => setDraft({ ...draft, red: e.currentTarget.value })} /></label>
          <label>{t.black}<input list="beside-points" required value={black} onInput={(e) => setDraft({ ...draft, black: e.currentTarget.value })} /></label>
          <button type="submit">{t.watch}</button>
        </>
      ) : <p class="hint">{t.fromNext}</p>}
    </form>
  );
}
