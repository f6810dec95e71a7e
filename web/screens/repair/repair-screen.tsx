/** What was found, what was done about it, and whether that is proved: of the session at hand, or of a recorded one (which can only be looked at). */
import { useEffect, useState } from 'preact/hooks';
import { proofsOf } from '../../../server/session/proof.ts';
import { NO_REPAIR } from '../../../server/session/repair.ts';
import type { RepairFile } from '../../../server/session/repair.ts';
import type { SessionContents, SessionInfo } from '../../../server/session/session.ts';
import { GoOn } from '../../parts/go-on.tsx';
import { contact, live, route } from '../../state.ts';
import { texts } from '../../texts.ts';
import { contents, loadContents, loadDocument } from '../review/recordings.ts';
import { access } from '../sharing/index.ts';
import { Finding } from './finding.tsx';
import { HandOver } from './hand-over.tsx';
import { ProofRows } from './proof-rows.tsx';
import { RepairForm } from './repair-form.tsx';
import { RepairList } from './repair-list.tsx';
import { Standing } from './standing.tsx';

const t = texts.repair;

export function RepairScreen() {
  const here = route.value;
  const session = here.screen === 'repair' ? here.session : null;
  return session === null ? <OfNow /> : <OfRecorded key={session} session={session} />;
}

function OfNow() {
  const now = live.value;
  if (now === null) return <p class="empty">{texts.review.loading}</p>;
  // The file is there with the first take, and holds something when that has ended.
  const file = now.ended.length === 0 ? null : now.recording.file;
  return <Case session={file} repair={now.repair} ended={now.ended.length} info={now.session} isNow />;
}

function OfRecorded({ session }: { session: string }) {
  const [repair, setRepair] = useState<RepairFile | null>(null);
  useEffect(() => void loadDocument<RepairFile>(session, 'repair').then((loaded) => setRepair(loaded.state === 'loaded' ? loaded.value ?? NO_REPAIR : NO_REPAIR)), [session]);
  const loaded = takesOf(session);
  return repair === null || loaded === null ? <Loading session={session} /> : <Case session={session} repair={repair} ended={0} info={loaded.info} isNow={false} />;
}

function Loading({ session }: { session: string }) {
  useEffect(() => void loadContents(session), [session]);
  const known = contents.value;
  return <p class="empty">{known?.session === session && known.loaded.state === 'failed' ? texts.review.failed(known.loaded.why) : texts.review.loading}</p>;
}

interface CaseProps {
  /** Null while the session at hand has no file: nothing was measured yet. */
  readonly session: string | null;
  readonly repair: RepairFile;
  /** Ended takes that there must be. */
  readonly ended: number;
  readonly info: SessionInfo;
  readonly isNow: boolean;
}

function Case({ session, repair, ended, info, isNow }: CaseProps) {
  useContents(session, ended);
  const loaded = session === null ? null : takesOf(session);
  const takes = (loaded?.takes ?? []).filter(({ end }) => end !== null);
  const proofs = proofsOf(takes, repair.repairs, repair.aside);
  const mayWrite = isNow && access.value?.role !== 'watch';
  return (
    <div class="repair">
      <h1>{t.title}</h1>
      <Standing proof={proofs.at(-1) ?? null} isAnyBad={takes.some(({ verdict }) => verdict === 'fail' || verdict === 'intermittent')} />
      {!isNow && session !== null && <GoOn session={session} />}
      <div class="repair-said">
        <div class="repair-found">
          <Finding finding={repair.finding} mayWrite={mayWrite} session={session} takes={takes.filter(({ start }) => start < (repair.repairs[0]?.at ?? Infinity)).length} />
          {session !== null && <HandOver session={session} />}
        </div>
        <div class="repair-done">
          <RepairList repair={repair} proofs={proofs} info={info} session={isNow ? null : session} mayWrite={mayWrite} />
          {mayWrite && <RepairForm />}
        </div>
      </div>
      {session !== null && <ProofRows session={session} proof={proofs.at(-1) ?? null} mayRepeat={mayWrite} />}
    </div>
  );
}

/** Loads what is stored, again whenever a take has ended: until its end is in the file too. */
function useContents(session: string | null, ended: number): void {
  const isReached = contact.value.state === 'open';
  useEffect(() => {
    if (session === null) return;
    let timer = 0;
    let isWanted = true;
    const load = (): void => void loadContents(session).then(() => {
      const stored = takesOf(session)?.takes.filter(({ end }) => end !== null).length ?? 0;
      if (isWanted && stored < ended) timer = window.setTimeout(load, AGAIN_MS);
    });
    load();
    return () => {
      isWanted = false;
      clearTimeout(timer);
    };
  }, [session, ended, isReached]);
}

/** The service writes what ended within a tenth of a second. */
const AGAIN_MS = 250;

function takesOf(session: string): SessionContents | null {
  const known = contents.value;
  return known?.session === session && known.loaded.state === 'loaded' ? known.loaded.value : null;
}
