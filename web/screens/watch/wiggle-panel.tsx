/** Beside the trace of a wiggle take: the rig proof, and which zone is flexed and how likely it is the source. */
import { useState } from 'preact/hooks';
import { request } from '../../actions.ts';
import { durationText } from '../../figures/time-text.ts';
import { Dialog } from '../../parts/dialog.tsx';
import { Icon } from '../../parts/glyphs.tsx';
import { zoneNames } from '../../preferences.ts';
import { live, pulse, serviceClock, shownJudgement } from '../../state.ts';
import { texts } from '../../texts.ts';
import { isRigProof, PROOF_TIME, rigState } from '../../wiggle/rig-proof.ts';
import { flexZone, isPaced, proveRig } from '../../wiggle/run.ts';
import { provocationNow, wiggleRecord, zoneNow, zoneReport } from '../../wiggle/zone-record.ts';

const t = texts.wiggle;

export function WigglePanel() {
  const now = live.value!;
  const clock = serviceClock.read(pulse.value) ?? 0;
  if (now.take !== null && isRigProof(now.take.check)) return <ProofRuns left={PROOF_TIME - (clock - now.take.start)} />;
  return (
    <section class="wiggle" aria-label={t.label}>
      <RigLine />
      <Zones clock={clock} />
    </section>
  );
}

function ProofRuns({ left }: { left: number }) {
  const dropouts = shownJudgement.value?.dropouts.length ?? 0;
  return (
    <section class="wiggle is-proof" aria-label={t.label}>
      <h2>{t.proofTitle}</h2>
      <p class="proof-left">{t.proofLeft(Math.max(0, Math.ceil(left)))}</p>
      <p>{t.proofInstruction}</p>
      <p><b>{dropouts === 0 ? t.proofGood : t.proofBad(dropouts)}</b></p>
    </section>
  );
}

function RigLine() {
  const now = live.value!;
  const judgement = shownJudgement.value;
  const rig = rigState(now.check, now.ended, now.take === null ? 0 : (judgement?.dropouts.length ?? 0));
  const text = rig.state === 'loose' ? t.loose(rig.dropouts) : t.rig[rig.state];
  return (
    <div class={`rig is-${rig.state}`}>
      <p>{rig.state === 'proved' ? <span class="rig-tick" aria-hidden="true">✓</span> : <Icon name="caution" />} {text}</p>
      {rig.state !== 'proved' && now.take === null && <button type="button" onClick={() => void proveRig()}>{t.prove}</button>}
    </div>
  );
}

function Zones({ clock }: { clock: number }) {
  const now = live.value!;
  const [isNaming, setNaming] = useState(false);
  const judgement = shownJudgement.value;
  const isRunning = now.take !== null && judgement !== null;
  const report = isRunning ? zoneReport(wiggleRecord(zoneNames.value, now.marks, judgement, clock)) : null;
  const at = isRunning ? zoneNow(now.marks) : null;
  const zones = report?.zones.map((finding) => finding.zone) ?? zoneNames.value;
  return (
    <>
      <div class="wiggle-head">
        <h2>{t.zones}</h2>
        <button type="button" class="follower" aria-pressed={isPaced.value} onClick={() => (isPaced.value = !isPaced.value)}>{t.pace}</button>
        <button type="button" class="follower" onClick={() => setNaming(true)}>{t.name}</button>
      </div>
      <ol class="zones">
        {zones.map((zone, i) => {
          const finding = report?.zones.find((one) => one.zone === zone);
          // Before the first dropout the chances say nothing but what was assumed.
          const chance = finding === undefined || report === null || report.dropoutsNeeded === null ? null : finding.chance;
          return (
            <li key={zone}>
              <button type="button" aria-pressed={at === zone} disabled={!isRunning} onClick={() => flexZone(zone)}>
                <kbd aria-hidden="true">{i + 1}</kbd>
                <span class="zone-name">{zone}</span>
                <span class="zone-facts">{finding === undefined || finding.flexedTime === 0 ? '' : t.facts(finding.dropouts, durationText(finding.flexedTime))}</span>
                <b class="zone-chance">{chance === null ? '' : `${Math.round(chance * 100)} %`}</b>
                <span class="zone-bar" style={{ width: `${(chance ?? 0) * 100}%` }} />
              </button>
            </li>
          );
        })}
      </ol>
      <p class="wiggle-found">
        {!isRunning ? t.zonesWait
          : report === null ? t.zonesStart
          : report.source !== null ? t.source(report.source)
          : report.dropoutsNeeded === null ? t.zonesNone(report.flexNext ?? '')
          : t.zonesMore(report.flexNext ?? '', report.dropoutsNeeded, Math.round(report.elsewhere * 100))}
      </p>
      <label class="inline">{t.provocation}
        <select disabled={!isRunning} value={provocationNow(now.marks) ?? t.provocations[0]} onChange={(e) => void request({ type: 'mark', kind: 'provocation', text: e.currentTarget.value })}>
          {t.provocations.map((name) => <option key={name} value={name}>{name}</option>)}
        </select>
      </label>
      {isNaming && <ZoneNames onClose={() => setNaming(false)} />}
    </>
  );
}

function ZoneNames({ onClose }: { onClose: () => void }) {
  const submit = (event: SubmitEvent): void => {
    event.preventDefault();
    const text = String(new FormData(event.currentTarget as HTMLFormElement).get('zones') ?? '');
    const names = [...new Set(text.split('\n').map((line) => line.trim()).filter((line) => line !== ''))].slice(0, 9);
    if (names.length > 0) zoneNames.value = names;
    onClose();
  };
  return (
    <Dialog title={t.name} closeText={texts.settings.close} onClose={onClose}>
      <form class="setting" onSubmit={submit}>
        <label>{t.nameHelp}<textarea name="zones" rows={7} defaultValue={zoneNames.value.join('\n')} /></label>
        <button type="submit" class="strong">{texts.settings.save}</button>
      </form>
    </Dialog>
  );
}
