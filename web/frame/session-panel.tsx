/** This session: what is known of it, the meters used, and a new one. All of it can be left out, and added at any time. */
import { useState } from 'preact/hooks';
import { request } from '../actions.ts';
import { Control } from '../parts/control.tsx';
import { Dialog } from '../parts/dialog.tsx';
import { routeHash } from '../routes.ts';
import { live } from '../state.ts';
import { texts } from '../texts.ts';
import { SessionForm } from './session-form.tsx';

const t = texts.session;

export function SessionPanel({ onClose }: { onClose: () => void }) {
  return (
    <Dialog title={t.title} closeText={texts.settings.close} onClose={onClose}>
      {live.value === null ? <p>{texts.contact.connecting}</p> : (
        <>
          {/* A new session has a form of its own: nothing typed for the last one may end up in it. */}
          <Control key={live.value.session.id}><SessionForm /></Control>
          <MetersUsed onLeave={onClose} />
          <Control><NewSession onClose={onClose} /></Control>
        </>
      )}
    </Dialog>
  );
}

/** Written into the session by itself, with what is known of each. */
function MetersUsed({ onLeave }: { onLeave: () => void }) {
  const { meters, judgedMeter, reference } = live.value!;
  const goToMeters = (): void => {
    location.hash = routeHash({ screen: 'meters' });
    onLeave();
  };
  return (
    <section class="setting">
      <h3>{t.meters}</h3>
      {meters.length === 0 && <p class="hint">{texts.meters.none}</p>}
      <ul>
        {meters.map(({ index, label, address, calibrated, accuracy }) => (
          <li key={index}>
            <b>{label || address}</b>{index === judgedMeter ? ` · ${t.judges}` : index === reference.meter ? ` · ${t.battery}` : ''}
            {` · ${calibrated === undefined || calibrated === '' ? t.notCalibrated : t.calibrated(calibrated)}`}{accuracy === null ? ` · ${t.noAccuracy}` : ''}
          </li>
        ))}
      </ul>
      <button type="button" onClick={goToMeters}>{t.toMeters}</button>
    </section>
  );
}

/** Asks before a chart that somebody typed is put away. */
function NewSession({ onClose }: { onClose: () => void }) {
  const [isAsking, setAsking] = useState(false);
  const { take, chart } = live.value!;
  const begin = (keepsChart: boolean): void => void request({ type: 'new-session', keepsChart }).then((isDone) => isDone && onClose());
  return (
    <section class="setting">
      <h3>{texts.take.newSession}</h3>
      <p class="hint">{take === null ? t.newWhy : t.newNotNow}</p>
      {!isAsking && <button type="button" disabled={take !== null} onClick={() => (chart.isOwn ? setAsking(true) : begin(true))}>{texts.take.newSession}</button>}
      {isAsking && (
        <div class="row" role="group" aria-label={t.chartAsked(chart.name ?? '')}>
          <p>{t.chartAsked(chart.name ?? '')}</p>
          <button type="button" class="strong" onClick={() => begin(true)}>{t.keepChart}</button>
          <button type="button" onClick={() => begin(false)}>{t.dropChart}</button>
        </div>
      )}
    </section>
  );
}
