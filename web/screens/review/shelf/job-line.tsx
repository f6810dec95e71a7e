/** How far a long job is, and what came of it. */
import type { Exported, Imported, JobState, Recovered, Verification } from '../../../../server/live/library-protocol.ts';
import { routeHash } from '../../../routes.ts';
import { texts } from '../../../texts.ts';
import { cancelJob, fileAddress, job } from './shelf-service.ts';

export function JobLine() {
  const t = texts.shelf;
  const shown = job.value;
  if (shown === null) return <p role="status" class="sr-only" />;
  const { title, state } = shown;
  return (
    <div class="job-line">
      <p role="status"><b>{title}</b> {state.state === 'failed' ? state.message : state.state === 'done' ? t.done : ''}</p>
      {state.state === 'running' && (
        <>
          <progress max={1} value={state.share} aria-label={title} />
          <button type="button" onClick={cancelJob}>{t.stop}</button>
        </>
      )}
      {state.state === 'done' && <Outcome state={state} />}
      {state.state !== 'running' && <button type="button" class="quiet" onClick={() => (job.value = null)}>{t.close}</button>}
    </div>
  );
}

function Outcome({ state }: { state: Extract<JobState, { state: 'done' }> }) {
  const { result } = state;
  if (typeof result === 'number') return null;
  if ('files' in result) return <Files state={state} exported={result} />;
  return 'session' in result ? <NewSession result={result} /> : <VerificationText result={result} />;
}

function Files({ state, exported }: { state: JobState; exported: Exported }) {
  return (
    <ul class="job-files">
      {exported.files.map((file) => <li key={file}><a href={fileAddress(state, file)} download={file}>{texts.shelf.download(file)}</a></li>)}
    </ul>
  );
}

function NewSession({ result }: { result: Imported | Recovered }) {
  const t = texts.shelf;
  const lost = 'skipped' in result ? result.skipped : result.unreadable;
  return (
    <div>
      <p><a href={routeHash({ screen: 'review', session: result.session, take: null })}>{t.openIt}</a> {t.came(result.takes, result.samples)} {lost > 0 && t.lost(lost)}</p>
      {'skippedFirst' in result && result.skippedFirst.length > 0 && (
        <ul class="hint">{result.skippedFirst.map(({ line, why }) => <li key={line}>{t.line(line)}: {why}</li>)}</ul>
      )}
    </div>
  );
}

function VerificationText({ result }: { result: Verification }) {
  const t = texts.shelf;
  return (
    <div class="verification">
      <p><b>{result.state === 'unchanged' ? t.unchanged : t.changed}</b> {t.sealed(result.sealedSamples, result.unsealedSamples)}</p>
      {result.reported !== null && <p><b>{t.reported[result.reported]}</b>{result.writtenSince.length > 0 && ` ${t.writtenSince(result.writtenSince.join(', '))}`}</p>}
      {result.findings.length > 0 && <ul>{result.findings.map(({ where, what }) => <li key={where + what}>{where}: {what}</li>)}</ul>}
      {result.unsealedRecords.length > 0 && <p class="hint">{t.unsealedRecords(result.unsealedRecords.join(', '))}</p>}
      <p class="hint">{t.hash} <code>{result.hash ?? t.noHash}</code></p>
      <p class="hint">{t.hashMeans}</p>
    </div>
  );
}
