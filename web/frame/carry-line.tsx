/** On every screen while this page carries a meter: that it does, and that closing it stops the readings. */
import { carried } from '../carry/carrier.ts';
import { StateDot } from '../parts/glyphs.tsx';
import { useWakeLock } from '../parts/wake-lock.ts';
import { texts } from '../texts.ts';

export function CarryLine() {
  const t = texts.carry;
  const meters = carried.value;
  const wake = useWakeLock(meters.length > 0);
  if (meters.length === 0) return null;
  return (
    <section class="carry-line" aria-label={t.label}>
      {meters.map(({ address, name, phase, message }) => (
        <p key={address}><StateDot state={phase === 'reading' ? 'good' : 'bad'} /> <b>{t.carries(name)}</b> {message === '' ? t.keepOpen : message}</p>
      ))}
      {(wake === 'missing' || wake === 'refused') && <p class="hint">{t.mayDoze}</p>}
    </section>
  );
}
