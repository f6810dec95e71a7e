/** The repairs that were noted, each with its time, pictures and what came of it. */
import { useState } from 'preact/hooks';
import type { Proof } from '../../../server/session/proof.ts';
import type { Repair, RepairFile } from '../../../server/session/repair.ts';
import type { SessionInfo } from '../../../server/session/session.ts';
import { wallTimeUs } from '../../../server/session/wall-time.ts';
import { request } from '../../actions.ts';
import { dateText } from '../../parts/date-text.ts';
import { live } from '../../state.ts';
import { texts } from '../../texts.ts';
import { AddPhotos, Photos } from './photos.tsx';
import { RepairFields } from './repair-form.tsx';

const t = texts.repair;

interface Props {
  readonly repair: RepairFile;
  readonly proofs: readonly Proof[];
  readonly info: SessionInfo;
  /** Null: the one at hand. */
  readonly session: string | null;
  readonly mayWrite: boolean;
}

export function RepairList({ repair: { repairs }, proofs, info, session, mayWrite }: Props) {
  const open = mayWrite ? live.value!.repair.open : null;
  return (
    <section class="panel" aria-label={t.repairs}>
      <h2>{t.repairs}</h2>
      {repairs.length === 0 && <p class="empty">{t.noneNoted}</p>}
      <ol class="repairs">
        {repairs.map((own, order) => (
          <li key={own.number}>
            <h3>{t.numbered(own.number, dateText(wallTimeUs(info, own.at)))}{own.place === '' ? '' : ` · ${own.place}`}</h3>
            {open === own.number ? <OpenRepair key={own.number} repair={own} /> : <p class="said">{own.text}</p>}
            <Photos photos={own.photos} session={session} mayRemove={open === own.number} />
            {open === own.number && <AddPhotos />}
            {order < repairs.length - 1 && <p class="outcome">{proofs[order]?.words}</p>}
          </li>
        ))}
      </ol>
    </section>
  );
}

/** Can still be corrected: nothing was measured in reliance on it. */
function OpenRepair({ repair }: { repair: Repair }) {
  const [typed, setTyped] = useState<{ readonly text: string; readonly place: string; readonly basedOn: number } | null>(null);
  const correct = (event: SubmitEvent): void => {
    event.preventDefault();
    if (typed === null) return;
    void request({ type: 'correct-repair', ...typed, place: typed.place.trim() }).then((isDone) => setTyped(isDone ? null : { ...typed, basedOn: live.value!.repair.revision }));
  };
  const revision = (): number => live.value!.repair.revision;
  if (typed === null) {
    return (
      <>
        <p class="said">{repair.text}</p>
        <div class="row">
          <button type="button" onClick={() => setTyped({ text: repair.text, place: repair.place, basedOn: revision() })}>{t.correct}</button>
          <button type="button" onClick={() => void request({ type: 'take-back-repair', basedOn: revision() })}>{t.takeBack}</button>
        </div>
      </>
    );
  }
  return (
    <form onSubmit={correct}>
      <RepairFields text={typed.text} place={typed.place} onChange={(change) => setTyped({ ...typed, ...change })} />
      <div class="row">
        <button type="submit" class="strong">{t.save}</button>
        <button type="button" onClick={() => setTyped(null)}>{t.leave}</button>
      </div>
    </form>
  );
}
