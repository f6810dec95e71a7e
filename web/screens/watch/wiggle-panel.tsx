/** Beside the trace of a wiggle take: the proof of the leads, which zone is flexed, and how likely each is the source. */
import { useState } from 'preact/hooks';
import { sayShare } from '../../../server/diagnosis/wording.ts';
import { SOURCE_CHANCE } from '../../../server/diagnosis/zones.ts';
import { PACE_TIME } from '../../../server/session/pacing.ts';
import { PROVOCATIONS, type Provocation } from '../../../server/session/take-account.ts';
import { flexZone, proveRig, request } from '../../actions.ts';
import { durationText } from '../../figures/time-text.ts';
import { Dialog } from '../../parts/dialog.tsx';
import { Icon } from '../../parts/glyphs.tsx';
import { endsItself } from '../../preferences.ts';
import { live, pulse, serviceClock } from '../../state.ts';
import { texts } from '../../texts.ts';

const t = texts.wiggle;

export function WigglePanel() {
  const { rig, take } = live.value!;
  return (
    <section class="wiggle" aria-label={t.label}>
      {rig.state === 'proving' ? <Proving /> : <Zones />}
      {take === null && (
        <label class="switch"><input type="checkbox" checked={endsItself.value} onChange={(e) => (endsItself.value = e.currentTarget.checked)} /> {t.endsItself}</label>
      )}
    </section>
  );
}

/** The seconds that are left of it. */
export function Proving() {
  const { rig } = live.value!;
  const clock = serviceClock.read(pulse.value) ?? 0;
  return (
    <div class="proving">
      <h2>{t.proofTitle}</h2>
      <p class="proof-left">{t.proofLeft(Math.max(0, Math.ceil((rig.until ?? clock) - clock)))}</p>
      <p><b>{rig.message}</b></p>
      <button type="button" onClick={() => void request({ type: 'prove-rig', isRunning: false })}>{t.endProof}</button>
    </div>
  );
}

/** What is known of the leads, and the button to prove them. */
export function RigLine() {
  const { rig } = live.value!;
  if (rig.state === 'not-needed') return null;
  return (
    <div class={`rig is-${rig.state}`}>
      <p>{rig.state === 'proved' ? <span class="rig-tick" aria-hidden="true">✓</span> : <Icon name="caution" />} <span>{rig.message}</span></p>
      {rig.state !== 'proved' && <button type="button" onClick={() => void proveRig()}>{t.prove}</button>}
    </div>
  );
}

function Zones() {
  const { wiggle, take, rig } = live.value!;
  const [isNaming, setNaming] = useState(false);
  const isRunning = take !== null;
  const { report } = wiggle;
  const source = report?.source ?? null;
  return (
    <>
      <div class="wiggle-head">
        <h2>{t.zones}</h2>
        <button type="button" class="follower" aria-pressed={wiggle.paceSeconds !== null}
          onClick={() => void request({ type: 'pace', seconds: wiggle.paceSeconds === null ? PACE_TIME : null })}>{t.pace}</button>
        <button type="button" class="follower" disabled={isRunning} onClick={() => setNaming(true)}>{t.name}</button>
      </div>
      {source !== null ? <p class="pace-now">{t.source(source, isRunning, rig.state !== 'proved')}</p> : wiggle.pace !== null && <p class="pace-now">{wiggle.pace.message}</p>}
      {wiggle.zones.length === 0 && <p>{t.noZones}</p>}
      <ol class="zones">
        {wiggle.zones.map((zone, i) => {
          const finding = report?.zones.find((one) => one.zone === zone);
          // Before the first dropout the chances say nothing but what was assumed.
          const chance = finding === undefined || report === null || report.dropoutsNeeded === null ? null : finding.chance;
          return (
            <li key={zone}>
              <button type="button" aria-pressed={wiggle.zone === zone} disabled={!isRunning} onClick={() => flexZone(zone)}>
                <kbd aria-hidden="true">{i + 1}</kbd>
                <span class="zone-name">{zone}</span>
                <span class="zone-facts">{finding === undefined || finding.flexedTime === 0 ? '' : t.facts(finding.dropouts, durationText(finding.flexedTime))}</span>
                <b class="zone-chance">{chance === null ? '' : sayShare(chance, SOURCE_CHANCE)}</b>
                <span class="zone-bar" style={{ width: `${(chance ?? 0) * 100}%` }} />
              </button>
            </li>
          );
        })}
      </ol>
      {source === null && (
        <p class="wiggle-found">
          {!isRunning ? t.zonesWait
            : report === null ? t.zonesStart
            : report.dropoutsNeeded === null ? t.zonesNone(report.flexNext ?? '')
            : t.zonesMore(report.flexNext ?? '', report.dropoutsNeeded, sayShare(report.elsewhere))}
        </p>
      )}
      {isRunning && <Provoked by={wiggle.provocations} />}
      {isNaming && <ZoneNames zones={wiggle.zones} onClose={() => setNaming(false)} />}
    </>
  );
}

function Provoked({ by }: { by: readonly Provocation[] }) {
  const toggle = (one: Provocation): void =>
    void request({ type: 'provoke', provocations: by.includes(one) ? by.filter((other) => other !== one) : [...by, one] });
  return (
    <fieldset class="provoked">
      <legend>{t.provocation}</legend>
      {PROVOCATIONS.map((one) => (
        <button key={one} type="button" aria-pressed={by.includes(one)} onClick={() => toggle(one)}>{t.provocations[one]}</button>
      ))}
    </fieldset>
  );
}

function ZoneNames({ zones, onClose }: { zones: readonly string[]; onClose: () => void }) {
  const submit = (event: SubmitEvent): void => {
    event.preventDefault();
    const text = String(new FormData(event.currentTarget as HTMLFormElement).get('zones') ?? '');
    const names = [...new Set(text.split('\n').map((line) => line.trim()).filter((line) => line !== ''))];
    void request({ type: 'name-zones', zones: names }).then((isDone) => isDone && onClose());
  };
  return (
    <Dialog title={t.name} closeText={texts.settings.close} onClose={onClose}>
      <form class="setting" onSubmit={submit}>
        <label class="wide">{t.nameHelp}<textarea name="zones" rows={7} defaultValue={zones.join('\n')} /></label>
        <button type="submit" class="strong">{texts.settings.save}</button>
      </form>
    </Dialog>
  );
}
