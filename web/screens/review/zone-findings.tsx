/** What a wiggle take says of its zones: time flexed, dropouts, and how likely each holds the source. */
import { useMemo } from 'preact/hooks';
import { sayShare, tidyDown, tidyUp } from '../../../server/diagnosis/wording.ts';
import { SOURCE_CHANCE } from '../../../server/diagnosis/zones.ts';
import type { MarkRecord, TakeSummary } from '../../../server/session/session.ts';
import { accountOf } from '../../../server/session/take-account.ts';
import { zoneReport } from '../../../server/session/zone-report.ts';
import { durationText } from '../../figures/time-text.ts';
import { texts } from '../../texts.ts';

const t = texts.zoneFindings;

/** @param marks  of the session */
export function ZoneFindings({ take, marks }: { take: TakeSummary; marks: readonly MarkRecord[] }) {
  const report = useMemo(() => {
    const end = take.end ?? take.start + take.judgement.elapsed;
    return zoneReport(take, accountOf(marks.filter((mark) => mark.take === take.id), end), take.judgement, end);
  }, [take, marks]);
  if (report === null) return null;
  const { zones, elsewhere, source, dropoutsNeeded } = report;
  return (
    <section class="zone-findings" aria-label={t.label}>
      <h3>{t.label}</h3>
      <p>{source !== null ? t.source(source) : dropoutsNeeded === null ? t.silent : t.open(dropoutsNeeded)}</p>
      <div class="several-table" tabIndex={0}>
        <table>
          <thead><tr><th scope="col">{t.zone}</th><th scope="col">{t.chance}</th><th scope="col">{t.dropouts}</th><th scope="col">{t.flexed}</th><th scope="col">{t.rate}</th></tr></thead>
          <tbody>
            {zones.map(({ zone, flexedTime, dropouts, rate, chance }) => (
              <tr key={zone}>
                <th scope="row">{zone}</th><td><b>{sayShare(chance, SOURCE_CHANCE)}</b></td><td>{dropouts}</td><td>{durationText(flexedTime)}</td>
                <td>{rate === null ? t.none : t.between(tidyDown(rate.low), tidyUp(rate.high))}</td>
              </tr>
            ))}
            <tr><th scope="row">{t.elsewhere}</th><td><b>{sayShare(elsewhere)}</b></td><td>{t.none}</td><td>{t.none}</td><td>{t.none}</td></tr>
          </tbody>
        </table>
      </div>
    </section>
  );
}
