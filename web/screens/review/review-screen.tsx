/** Recorded sessions, their takes, and one take with its trace and its dropouts. */
import { dropoutsIn } from '../../../server/diagnosis/judgement.ts';
import { useEffect, useState } from 'preact/hooks';
import type { ComponentChildren } from 'preact';
import { PLACES, type Place } from '../../../server/live/library-protocol.ts';
import type { SessionContents, SessionListing } from '../../../server/live/protocol.ts';
import { wallTimeUs } from '../../../server/session/wall-time.ts';
import { checkName } from '../../check-words.ts';
import { bytesText } from '../../figures/bytes-text.ts';
import { durationText } from '../../figures/time-text.ts';
import { dateText } from '../../parts/date-text.ts';
import { GoOn } from '../../parts/go-on.tsx';
import { Icon, VerdictMark } from '../../parts/glyphs.tsx';
import { routeHash } from '../../routes.ts';
import { contact, route } from '../../state.ts';
import { texts } from '../../texts.ts';
import { reportAddress } from '../repair/hand-over.tsx';
import { contents, listed, loadContents, loadSessions, sessions, type Loaded } from './recordings.ts';
import { Notes } from './notes.tsx';
import { ImportPanel } from './shelf/import-panel.tsx';
import { JobLine } from './shelf/job-line.tsx';
import { EmptyTrash, SessionKeeping, Thrown, WayBack } from './shelf/session-keeping.tsx';
import { SpaceLine } from './shelf/space-line.tsx';
import { TakeView } from './take-view.tsx';

const t = texts.review;

export function ReviewScreen() {
  const here = route.value;
  const session = here.screen === 'review' ? here.session : null;
  const take = here.screen === 'review' ? here.take : null;
  const isReached = contact.value.state === 'open';
  useEffect(() => void loadSessions(), [isReached, session]);
  useEffect(() => {
    if (session !== null) void loadContents(session);
  }, [isReached, session, take]);
  const depth = session === null ? 'sessions' : take === null ? 'takes' : 'take';
  return (
    <div class={`review at-${depth}`}>
      <h1 class="sr-only">{t.title}</h1>
      <SessionList chosen={session} />
      {session !== null && <TakeList session={session} chosen={take} />}
      <div class="review-take">
        {session === null && <p class="empty">{t.chooseSession}</p>}
        {session !== null && take === null && <p class="empty">{t.chooseTake}</p>}
        {session !== null && take !== null && <OneTake session={session} take={take} />}
      </div>
    </div>
  );
}

function SessionList({ chosen }: { chosen: string | null }) {
  const [isImporting, setImporting] = useState(false);
  const { search, place } = listed.value;
  const look = (change: Partial<typeof listed.value>): void => {
    listed.value = { ...listed.value, ...change };
    void loadSessions();
  };
  return (
    <section class="review-sessions" aria-label={t.sessions}>
      <h2>{texts.shelf.places[place]}</h2>
      <div class="shelf-tools">
        <label>{texts.shelf.search}<input type="search" value={search} placeholder={texts.shelf.searchHint} onInput={(event) => look({ search: event.currentTarget.value })} /></label>
        <div class="row">
          <label>{texts.shelf.place}
            <select value={place} onChange={(event) => look({ place: event.currentTarget.value as Place })}>
              {PLACES.map((one) => <option key={one} value={one}>{texts.shelf.places[one]}</option>)}
            </select>
          </label>
          <button type="button" onClick={() => setImporting(true)}>{texts.shelf.bringIn}</button>
          {place === 'trash' && <EmptyTrash />}
        </div>
      </div>
      {chosen === null && <JobLine />}
      <Thrown />
      {isImporting && <ImportPanel onClose={() => setImporting(false)} />}
      <Loading loaded={sessions.value} again={() => void loadSessions()}>
        {(list) => list.length === 0 ? <p class="empty">{search === '' && place === 'recordings' ? t.noSessions : t.noneFound}</p> : (
          <ul class="rows">
            {list.map((listing) => (
              <li key={listing.session}>
                {place === 'recordings'
                  ? (
                    <a href={routeHash({ screen: 'review', session: listing.session, take: null })} aria-current={listing.session === chosen ? 'true' : undefined}>
                      <SessionLines listing={listing} />
                    </a>
                  )
                  : <div class="put-away"><SessionLines listing={listing} /><WayBack session={listing.session} place={place} /></div>}
              </li>
            ))}
          </ul>
        )}
      </Loading>
      <SpaceLine />
    </section>
  );
}

function SessionLines({ listing }: { listing: SessionListing }) {
  return (
    <>
      <strong>{listing.info?.title || listing.info?.vehicle || t.untitled}</strong>
      <span>{listing.info === null ? listing.session : [dateText(listing.info.startedAtUs), listing.info.title === '' ? '' : listing.info.vehicle].filter((part) => part !== '').join(' · ')}</span>
      <small>{t.takes(listing.takes)} · {bytesText(listing.bytes)}{listing.state === 'recording' ? ` · ${t.recordingNow}` : ''}</small>
      {listing.state === 'damaged' && <small class="damaged"><Icon name="caution" /> {t.damaged}: {listing.message}</small>}
    </>
  );
}

function TakeList({ session, chosen }: { session: string; chosen: number | null }) {
  const loaded = contentsOf(session);
  const listing = sessions.value.state === 'loaded' ? sessions.value.value.find((one) => one.session === session) ?? null : null;
  return (
    <section class="review-takes" aria-label={t.takesTitle}>
      <a class="back" href={routeHash({ screen: 'review', session: null, take: null })}><Icon name="left" /> {t.back}</a>
      <h2>{t.takesTitle}</h2>
      <JobLine />
      {listing !== null && listing.state !== 'recording' && (
        <SessionKeeping key={session} listing={listing} onGone={() => (location.hash = routeHash({ screen: 'review', session: null, take: null }))} />
      )}
      <Loading loaded={loaded} again={() => void loadContents(session)}>
        {({ info, takes }) => (
          <>
            <p class="row session-links"><a href={routeHash({ screen: 'repair', session })}>{texts.repair.ofSession}</a> <a href={reportAddress(session)} target="_blank" rel="noreferrer">{texts.repair.reportOf}</a></p>
            <p class="session-about">{[info.title, info.vehicle, info.complaint].filter((line) => line !== '').join(' · ')}</p>
            {listing?.state === 'complete' && <GoOn session={session} />}
            {takes.length === 0 ? <p class="empty">{t.noTakes}</p> : (
              <ul class="rows">
                {takes.map((take) => (
                  <li key={take.id}>
                    <a href={routeHash({ screen: 'review', session, take: take.id })} aria-current={take.id === chosen ? 'true' : undefined}>
                      <VerdictMark verdict={take.verdict} />
                      <strong>{texts.take.number(take.id)} · {checkName(take.check)}</strong>
                      <span>{texts.verdict.words[take.verdict]}, {texts.status.dropouts(dropoutsIn(take.judgement))}</span>
                      <small>{info.stretches === undefined ? '' : `${dateText(wallTimeUs(info, take.start))} · `}{texts.watching.names[take.watching]}{take.end === null ? '' : ` · ${durationText(take.end - take.start)}`} · {t.endings[take.ending]}</small>
                    </a>
                  </li>
                ))}
              </ul>
            )}
            <Notes session={session} take={null} cursor={null} onGoTo={() => undefined} />
          </>
        )}
      </Loading>
    </section>
  );
}

function OneTake({ session, take }: { session: string; take: number }) {
  return (
    <>
      <a class="back" href={routeHash({ screen: 'review', session, take: null })}><Icon name="left" /> {t.backToTakes}</a>
      <Loading loaded={contentsOf(session)} again={() => void loadContents(session)}>
        {(loaded) => {
          const summary = loaded.takes.find((one) => one.id === take);
          return summary === undefined ? <p class="empty">{t.noTakes}</p> : (
            <TakeView key={`${session}/${take}`} session={session} take={summary} contents={loaded} />
          );
        }}
      </Loading>
    </>
  );
}

function contentsOf(session: string): Loaded<SessionContents> {
  const known = contents.value;
  return known?.session === session ? known.loaded : { state: 'loading' };
}

function Loading<T>({ loaded, again, children }: { loaded: Loaded<T>; again: () => void; children: (value: T) => ComponentChildren }) {
  switch (loaded.state) {
    case 'loading': return <p class="empty">{t.loading}</p>;
    case 'failed': return <p class="empty" role="alert">{t.failed(loaded.why)} <button type="button" onClick={again}>{t.again}</button></p>;
    case 'loaded': return <>{children(loaded.value)}</>;
  }
}
