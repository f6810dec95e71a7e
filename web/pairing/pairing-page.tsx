/** The code, a name for the device, one button. */
import { BrandMark } from '../parts/glyphs.tsx';
import { TrustSteps } from '../screens/sharing/trust-steps.tsx';
import { texts } from '../texts.ts';
import { isTrying, pair, trouble } from './pairing.ts';

/** @param code that was scanned; empty when it is to be typed */
export function PairingPage({ code }: { code: string }) {
  const t = texts.sharing.pairing;
  const submit = (event: SubmitEvent): void => {
    event.preventDefault();
    const data = new FormData(event.currentTarget as HTMLFormElement);
    void pair({ code: String(data.get('code') ?? ''), name: String(data.get('name') ?? '') });
  };
  const guess = matchMedia('(pointer: coarse)').matches ? t.phone : t.computer;
  return (
    <main class="pairing">
      <p class="brand"><BrandMark /> {texts.appName}</p>
      <h1>{t.title}</h1>
      <p>{t.how}</p>
      <form onSubmit={submit}>
        <label>{t.code}
          <input name="code" defaultValue={code} required maxLength={40} autocomplete="off" autocapitalize="characters" spellcheck={false} placeholder="XXXX-XXXX" />
        </label>
        <label>{t.name}
          <input name="name" defaultValue={guess} maxLength={60} autocomplete="off" />
        </label>
        <div role="alert">{trouble.value !== '' && <p class="form-error">{trouble.value}</p>}</div>
        <button type="submit" class="strong" disabled={isTrying.value}>{t.pair}</button>
      </form>
      <TrustSteps fingerprint={null} />
    </main>
  );
}
