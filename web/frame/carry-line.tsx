/** On every screen while this page carries a meter: that it does, and that closing it stops the readings. */
import { carried, putDown } from '../carry/carrier.ts';
import { RequestFailed } from '../live/index.ts';
import { StateDot } from '../parts/glyphs.tsx';
import { useWakeLock } from '../parts/wake-lock.ts';
import { notice } from '../state.ts';
import { texts } from '../texts.ts';

export function CarryLine() {
  const t = texts.carry;
  const meters = carried.value;
  const wake = useWakeLock(meters.length > 0);
  if (meters.length === 0) return null;
  return (
    <section class="carry-line" aria-label={t.label}>
      {meters.map(({ address, name, phase, message }) => (
        <p key={address}>
          <StateDot state={phase === 'reading' ? 'good' : 'bad'} /> <b>{t.carries(name)}</b> {message === '' ? t.keepOpen : message}{' '}
          <button type="button" class="quiet" aria-label={`${texts.meters.detach}: ${name}`} onClick={() => void letGo(address)}>{texts.meters.detach}</button>
        </p>
      ))}
      {(wake === 'missing' || wake === 'refused') && <p class="hint">{t.mayDoze}</p>}
    </section>
  );
}

async function letGo(address: string): Promise<void> {
  try {
    await putDown(address);
  } catch (error) {
    if (!(error instanceof RequestFailed)) throw error;
    notice.value = { kind: 'trouble', text: error.message };
  }
}
