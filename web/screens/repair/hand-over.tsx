/** What somebody else is given: the report, and the whole session as one file. */
import { texts } from '../../texts.ts';
import { JobLine } from '../review/shelf/job-line.tsx';
import { startSessionJob } from '../review/shelf/shelf-service.ts';

const t = texts.repair;

export function HandOver({ session }: { session: string }) {
  return (
    <section class="panel hand-over" aria-label={t.handOver}>
      <h2>{t.handOver}</h2>
      <p><a class="button" href={reportAddress(session)} target="_blank" rel="noreferrer">{t.report}</a></p>
      <p class="hint">{t.reportHow}</p>
      <button type="button" onClick={() => void startSessionJob(session, texts.shelf.exporting(texts.shelf.formats.sqlite), { type: 'export', format: 'sqlite', take: null, meter: null })}>{t.wholeSession}</button>
      <p class="hint">{t.wholeSessionHow}</p>
      <JobLine />
    </section>
  );
}

export function reportAddress(session: string): string {
  return `/api/sessions/${encodeURIComponent(session)}/report`;
}
