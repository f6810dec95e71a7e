/** Devices: letting a phone or a second screen in, what each may do, and withdrawing it. On the main screen only. */
import { useEffect, useState } from 'preact/hooks';
import { ROLES, type Role } from '../../../server/live/access/caller.ts';
import type { PairedDevice, SharingState } from '../../../server/live/sharing-protocol.ts';
import { durationText } from '../../figures/time-text.ts';
import { Choice } from '../../parts/choice.tsx';
import { Dialog } from '../../parts/dialog.tsx';
import { texts } from '../../texts.ts';
import { QrCode } from './qr-code.tsx';
import { closeCode, followSharing, openCode, setRole, sharing, sharingTrouble, withdraw } from './sharing-service.ts';
import { TrustSteps } from './trust-steps.tsx';

type Shared = Extract<SharingState, { isShared: true }>;

export function SharingPanel({ onClose }: { onClose: () => void }) {
  const t = texts.sharing;
  useEffect(followSharing, []);
  const state = sharing.value;
  return (
    <Dialog title={t.title} closeText={t.close} onClose={onClose}>
      {sharingTrouble.value !== '' && <p class="form-error" role="alert">{sharingTrouble.value}</p>}
      {state === null ? <p>{texts.contact.connecting}</p> : !state.isShared ? <NotShared /> : <SharedPanel state={state} />}
    </Dialog>
  );
}

function NotShared() {
  const t = texts.sharing;
  return <div class="setting"><p>{t.notShared}</p><p><code>npm start -- --share</code></p></div>;
}

function SharedPanel({ state }: { state: Shared }) {
  return (
    <>
      {state.addresses.length === 0 ? <p class="setting">{texts.sharing.noNetwork}</p> : <LetIn state={state} />}
      <Devices devices={state.devices} />
      <TrustSteps fingerprint={state.fingerprint} />
    </>
  );
}

function LetIn({ state }: { state: Shared }) {
  const t = texts.sharing;
  const [role, setNewRole] = useState<Role>('control');
  if (state.pairing !== null) return <OpenCode state={state} pairing={state.pairing} />;
  return (
    <section class="setting">
      <Choice name="role" label={t.mayDo} options={ROLES} value={role} text={(name) => t.roles[name]} onChoose={setNewRole} />
      <p class="hint">{t.roleMeanings[role]}</p>
      <button type="button" class="strong" onClick={() => void openCode(role)}>{t.letIn}</button>
      <p role="status">{state.lastCode === null ? '' : t.lastCode[state.lastCode]}</p>
    </section>
  );
}

function OpenCode({ state, pairing }: { state: Shared; pairing: NonNullable<Shared['pairing']> }) {
  const t = texts.sharing;
  const [chosen, choose] = useState('');
  const address = state.addresses.find(({ url }) => url === chosen) ?? state.addresses[0]!;
  return (
    <section class="setting open-code">
      <QrCode text={`${address.url}/pairing.html#${pairing.code}`} label={t.qrLabel} />
      <div>
        <p>{t.scan}</p>
        <p class="open-code-address">{address.url}</p>
        <p>{t.type}</p>
        <p class="open-code-code">{pairing.code}</p>
        <p>{t.goodFor(t.roles[pairing.role], durationText(Math.max(0, Math.round(pairing.expiresIn))))}</p>
        <button type="button" onClick={() => void closeCode()}>{t.closeCode}</button>
      </div>
      {state.addresses.length > 1 && (
        <label>{t.network}
          <select value={address.url} onChange={(e) => choose(e.currentTarget.value)}>
            {state.addresses.map(({ url, network }) => <option key={url} value={url}>{network} {url}</option>)}
          </select>
        </label>
      )}
    </section>
  );
}

function Devices({ devices }: { devices: readonly PairedDevice[] }) {
  const t = texts.sharing;
  return (
    <section class="setting">
      <h3>{t.devices}</h3>
      {devices.length === 0 ? <p class="hint">{t.noDevices}</p> : (
        <ul class="paired">{devices.map((device) => <DeviceRow key={device.id} device={device} />)}</ul>
      )}
    </section>
  );
}

function DeviceRow({ device: { id, name, role, lastSeenAt, open } }: { device: PairedDevice }) {
  const t = texts.sharing;
  const seen = open > 0 ? t.openNow : lastSeenAt === null ? '' : t.lastSeen(new Date(lastSeenAt).toLocaleString());
  return (
    <li>
      <div><b>{name || t.unnamed}</b> <small>{seen}</small></div>
      <label class="sr-label"><span class="sr-only">{t.roleOf(name || t.unnamed)}</span>
        <select value={role} onChange={(e) => void setRole(id, e.currentTarget.value as Role)}>
          {ROLES.map((option) => <option key={option} value={option}>{t.roles[option]}</option>)}
        </select>
      </label>
      <button type="button" aria-label={t.withdrawNamed(name || t.unnamed)} onClick={() => void withdraw(id)}>{t.withdraw}</button>
    </li>
  );
}
