/** Recorded sessions, their takes, and one take with its trace and its dropouts. */
import { useEffect } from 'preact/hooks';
import type { ComponentChildren } from 'preact';
import type { SessionContents } from '../../../server/live/protocol.ts';
import { checkName } from '../../check-words.ts';
import { bytesText } from '../../figures/bytes-text.ts';
import { durationText } from '../../figures/time-text.ts';
import { Icon, VerdictMark } from '../../parts/glyphs.tsx';
import { routeHash } from '../../routes.ts';
import { contact, route } from '../../state.ts';
import { texts } from '../../texts.ts';
import { contents, loadContents, loadSessions, sessions, type Loaded } from './recordings.ts';
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
  return (
    <section class="review-sessions" aria-label={t.sessions}>
      <h2>{t.sessions}</h2>
      <Loading loaded={sessions.value} again={() => void loadSessions()}>
        {(list) => list.length === 0 ? <p class="empty">{t.noSessions}</p> : (
          <ul class="rows">
            {list.map((listing) => (
              <li key={listing.session}>
                <a href={routeHash({ screen: 'review', session: listing.session, take: null })} aria-current={listing.session === chosen ? 'true' : undefined}>
                  <strong>{listing.info?.title || listing.info?.vehicle || t.untitled}</strong>
                  <span>{listing.info === null ? listing.session : dateText(listing.info.startedAtUs)}</span>
                  <small>{t.takes(listing.takes)} · {bytesText(listing.bytes)}{listing.state === 'recording' ? ` · ${t.recordingNow}` : ''}</small>
                  {listing.state === 'damaged' && <small class="damaged"><Icon name="caution" /> {t.damaged}: {listing.message}</small>}
                </a>
              </li>
            ))}
          </ul>
        )}
      </Loading>
    </section>
  );
}

function TakeList({ session, chosen }: { session: string; chosen: number | null }) {
  const loaded = contentsOf(session);
  return (
    <section class="review-takes" aria-label={t.takesTitle}>
      <a class="back" href={routeHash({ screen: 'review', session: null, take: null })}><Icon name="left" /> {t.back}</a>
      <h2>{t.takesTitle}</h2>
      <Loading loaded={loaded} again={() => void loadContents(session)}>
        {({ info, takes }) => (
          <>
            <p class="session-about">{[info.title, info.vehicle, info.complaint].filter((line) => line !== '').join(' · ')}</p>
            {takes.length === 0 ? <p class="empty">{t.noTakes}</p> : (
              <ul class="rows">
                {takes.map((take) => (
                  <li key={take.id}>
                    <a href={routeHash({ screen: 'review', session, take: take.id })} aria-current={take.id === chosen ? 'true' : undefined}>
                      <VerdictMark verdict={take.verdict} />
                      <strong>{texts.take.number(take.id)} · {checkName(take.check)}</strong>
                      <span>{texts.verdict.words[take.verdict]}, {texts.status.dropouts(take.judgement.dropouts.length)}</span>
                      <small>{texts.watching.names[take.watching]}{take.end === null ? '' : ` · ${durationText(take.end - take.start)}`} · {t.endings[take.ending]}</small>
                    </a>
                  </li>
                ))}
              </ul>
            )}
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
            <TakeView key={`${session}/${take}`} session={session} take={summary} meters={loaded.meters} takes={loaded.takes} marks={loaded.marks} />
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

function dateText(microseconds: number): string {
  return new Date(microseconds / 1000).toLocaleString(document.documentElement.lang, { dateStyle: 'medium', timeStyle: 'short' });
}
