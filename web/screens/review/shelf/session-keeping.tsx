/** What can be done with one recorded session: name it, take it out, check it, put it away. */
import { useState } from 'preact/hooks';
import type { SessionListing } from '../../../../server/session/session.ts';
import { EXPORT_FORMATS, type Place } from '../../../../server/live/library-protocol.ts';
import { texts } from '../../../texts.ts';
import { describeSession, type Description, emptyTrash, moveSession, startSessionJob, thrown } from './shelf-service.ts';

/** For a session that lies among the recordings and is not being recorded. */
export function SessionKeeping({ listing, onGone }: { listing: SessionListing; onGone: () => void }) {
  const t = texts.shelf;
  const [about, setAbout] = useState<Description>({ title: listing.info?.title ?? '', vehicle: listing.info?.vehicle ?? '', complaint: listing.info?.complaint ?? '' });
  const [hash, setHash] = useState('');
  const { session } = listing;
  const isDamaged = listing.state === 'damaged';
  const put = (to: Place) => void moveSession(session, 'recordings', to).then((isMoved) => isMoved && onGone());
  return (
    <details class="keeping" open={isDamaged}>
      <summary>{t.more}</summary>
      {!isDamaged && (
        <form onSubmit={(event) => { event.preventDefault(); void describeSession(session, about); }}>
          {(['title', 'vehicle', 'complaint'] as const).map((part) => (
            <label key={part}>{t.about[part]}
              <input value={about[part]} maxLength={part === 'complaint' ? 2000 : 200} onInput={(event) => setAbout({ ...about, [part]: event.currentTarget.value })} />
            </label>
          ))}
          <button type="submit">{t.rename}</button>
        </form>
      )}
      {!isDamaged && (
        <fieldset>
          <legend>{t.takeOut}</legend>
          {EXPORT_FORMATS.map((format) => (
            <button key={format} type="button" onClick={() => void startSessionJob(session, t.exporting(t.formats[format]), { type: 'export', format, take: null, meter: null })}>
              {t.formats[format]}
            </button>
          ))}
        </fieldset>
      )}
      {!isDamaged && (
        <form onSubmit={(event) => {
          event.preventDefault();
          void startSessionJob(session, t.verifying, { type: 'verify', ...(hash.trim() === '' ? {} : { reportedHash: hash.trim() }) });
        }}>
          <label>{t.reportedHash}<input value={hash} maxLength={64} pattern="[0-9a-fA-F]{64}" onInput={(event) => setHash(event.currentTarget.value)} /></label>
          <button type="submit">{t.verify}</button>
        </form>
      )}
      <div class="keeping-buttons">
        {isDamaged && <button type="button" class="strong" onClick={() => void startSessionJob(session, t.recovering, { type: 'recover' })}>{t.recover}</button>}
        {!isDamaged && listing.message !== '' && <button type="button" onClick={() => void startSessionJob(session, t.finishing, { type: 'finish' })}>{t.finish}</button>}
        <button type="button" onClick={() => put('archive')}>{t.archive}</button>
        <button type="button" onClick={() => put('trash')}>{t.trash}</button>
      </div>
    </details>
  );
}

/** For sessions in the archive or the trash: the way back. */
export function WayBack({ session, place }: { session: string; place: Exclude<Place, 'recordings'> }) {
  const t = texts.shelf;
  return <button type="button" onClick={() => void moveSession(session, place, 'recordings')}>{place === 'archive' ? t.unarchive : t.restore}</button>;
}

/** What was thrown away a moment ago can be had back at once. */
export function Thrown() {
  const t = texts.shelf;
  const session = thrown.value;
  return (
    <p role="status" class={session === null ? 'sr-only' : 'job-line'}>
      {session !== null && <>{t.thrown} <button type="button" onClick={() => void moveSession(session, 'trash', 'recordings')}>{t.undo}</button></>}
    </p>
  );
}

/** Asks once more: what is gone from here is gone. */
export function EmptyTrash() {
  const t = texts.shelf;
  const [isAsked, setAsked] = useState(false);
  if (!isAsked) return <button type="button" onClick={() => setAsked(true)}>{t.empty}</button>;
  return (
    <div class="row" role="group" aria-label={t.empty}>
      <button type="button" class="strong" onClick={() => { setAsked(false); void emptyTrash(); }}>{t.emptyNow}</button>
      <button type="button" onClick={() => setAsked(false)}>{t.keepIt}</button>
    </div>
  );
}
