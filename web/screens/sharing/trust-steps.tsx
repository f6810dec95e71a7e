/** How a device comes to trust the service's certificate, on the systems that people have. */
import { texts } from '../../texts.ts';

/** @param fingerprint to compare with what the device shows; null where it is not known */
export function TrustSteps({ fingerprint }: { fingerprint: string | null }) {
  const t = texts.sharing.trust;
  return (
    <details class="trust">
      <summary>{t.title}</summary>
      <p>{t.why}</p>
      <p><a href="/workshop-authority.crt" download>{t.download}</a></p>
      {fingerprint === null ? <p>{t.compareThere}</p> : <><p>{t.compare}</p><p><code class="fingerprint">{fingerprint}</code></p></>}
      <ul>{t.steps.map(({ system, how }) => <li key={system}><b>{system}</b> {how}</li>)}</ul>
      <p class="hint">{t.limits}</p>
    </details>
  );
}
