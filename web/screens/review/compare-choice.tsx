/** Which take is laid beside the one that is open: another of its session, or one of another session, as of the day before the repair. */
import { useState } from 'preact/hooks';
import type { SessionContents, SessionListing } from '../../../server/live/protocol.ts';
import type { MarkRecord, TakeSummary } from '../../../server/session/session.ts';
import { wallTimeUs } from '../../../server/session/wall-time.ts';
import { dateText } from '../../parts/date-text.ts';
import { texts } from '../../texts.ts';
import { titleOf } from './comparison.tsx';
import { fetchJson, listed, sessions } from './recordings.ts';

const t = texts.review;

export interface Compared {
  readonly session: string;
  readonly take: TakeSummary;
  readonly marks: readonly MarkRecord[];
  readonly title: string;
  /** It was taken before the one that is open. */
  readonly isBefore: boolean;
}

interface Props {
  readonly session: string;
  readonly take: TakeSummary;
  /** Of the session that is open. */
  readonly contents: SessionContents;
  readonly onChoose: (compared: Compared | null) => void;
}

interface Elsewhere {
  readonly session: string;
  readonly contents: SessionContents;
  readonly take: TakeSummary | undefined;
}

/** A number chooses a take of this session, anything else a session by its name after this sign. */
const SESSION = '/';

export function CompareChoice({ session, take, contents, onChoose }: Props) {
  const [value, setValue] = useState('');
  const [elsewhere, setElsewhere] = useState<Elsewhere | null>(null);
  const [trouble, setTrouble] = useState('');
  const others = otherSessions(session);
  const wall = (own: SessionContents, start: number): number => wallTimeUs(own.info, start);
  const compare = (name: string, own: SessionContents, other: TakeSummary | undefined): void => onChoose(other === undefined ? null : {
    session: name, take: other, marks: own.marks.filter((mark) => mark.take === other.id),
    title: own === contents ? titleOf(other) : `${dateText(own.info.startedAtUs)} · ${titleOf(other)}`,
    isBefore: wall(own, other.start) < wall(contents, take.start),
  });
  const choose = (wanted: string): void => {
    setValue(wanted);
    setElsewhere(null);
    setTrouble('');
    if (!wanted.startsWith(SESSION)) return compare(session, contents, contents.takes.find((one) => String(one.id) === wanted));
    const name = wanted.slice(SESSION.length);
    onChoose(null);
    void fetchJson<SessionContents>(`/api/sessions/${encodeURIComponent(name)}`).then((loaded) => {
      if (loaded.state === 'failed') setTrouble(t.failed(loaded.why));
      if (loaded.state !== 'loaded') return;
      lookAt(name, loaded.value, likest(loaded.value.takes, take));
    });
  };
  const lookAt = (name: string, own: SessionContents, other: TakeSummary | undefined): void => {
    setElsewhere({ session: name, contents: own, take: other });
    compare(name, own, other);
  };
  if (contents.takes.length < 2 && others.length === 0) return null;
  return (
    <>
      <label class="inline">{t.compare}
        <select value={value} onChange={(event) => choose(event.currentTarget.value)}>
          <option value="">{t.compareNone}</option>
          {contents.takes.filter((one) => one.id !== take.id).map((one) => <option key={one.id} value={one.id}>{titleOf(one)}</option>)}
          {others.length > 0 && (
            <optgroup label={t.compareElsewhere}>
              {others.map((one) => <option key={one.session} value={SESSION + one.session}>{nameOf(one)}</option>)}
            </optgroup>
          )}
        </select>
      </label>
      {elsewhere !== null && (
        <label class="inline">{t.compareTake}
          <select value={elsewhere.take?.id}
            onChange={(event) => lookAt(elsewhere.session, elsewhere.contents, elsewhere.contents.takes.find((one) => String(one.id) === event.currentTarget.value))}>
            {elsewhere.contents.takes.map((one) => <option key={one.id} value={one.id}>{titleOf(one)}</option>)}
          </select>
        </label>
      )}
      {trouble !== '' && <span role="alert">{trouble}</span>}
    </>
  );
}

/** Those of the list, where it shows what lies among the recordings. */
function otherSessions(session: string): readonly SessionListing[] {
  if (sessions.value.state !== 'loaded' || listed.value.place !== 'recordings') return [];
  return sessions.value.value.filter((one) => one.session !== session && one.takes > 0 && one.state !== 'damaged');
}

function nameOf({ session, info }: SessionListing): string {
  return info === null ? session : [dateText(info.startedAtUs), info.title || info.vehicle].filter((part) => part !== '').join(' · ');
}

/** The last take of the same check in the same way of watching; else of the same check; else the last. */
function likest(takes: readonly TakeSummary[], { check, watching }: TakeSummary): TakeSummary | undefined {
  const same = takes.filter((one) => one.check.kind === check.kind && one.check.red === check.red && one.check.black === check.black);
  return same.filter((one) => one.watching === watching).at(-1) ?? same.at(-1) ?? takes.at(-1);
}
