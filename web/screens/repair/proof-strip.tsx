/** On the watch screen: that the check at hand is one that proves the repair, and what it needs for that. */
import { proofOf } from '../../../server/session/proof.ts';
import { routeHash } from '../../routes.ts';
import { live } from '../../state.ts';
import { texts } from '../../texts.ts';
import { contents } from '../review/recordings.ts';
import { provoked } from './provoked.ts';

const t = texts.repair;

export function ProofStrip() {
  const { repair, check, watching, recording, ended } = live.value!;
  const known = contents.value;
  // Loaded by the repair screen, from which one comes here.
  if (repair.repairs.length === 0 || known === null || known.session !== recording.file || known.loaded.state !== 'loaded') return null;
  const takes = known.loaded.value.takes.filter(({ end }) => end !== null);
  const row = proofOf(takes, repair.repairs, repair.aside).rows.find((own) => own.check.id === check.id && own.watching === watching);
  if (row === undefined || row.state === 'proved') return null;
  const how = provoked(row.before);
  return (
    <section class="proof-strip" aria-label={t.title}>
      <p><b>{t.provesRepair}</b> {how !== '' && t.provokeAgain(how)} {takes.length === ended.length && row.after !== null && row.missing.join(' ')} <a href={routeHash({ screen: 'repair', session: null })}>{t.title}</a></p>
    </section>
  );
}
