/** What the meter would have seen at this check: rows of a list of numbers. */
import type { Judgement } from '../../server/diagnosis/judgement.ts';
import { sayShare, sayTime } from '../../server/diagnosis/wording.ts';
import { roundText } from '../figures/reading-text.ts';
import { texts } from '../texts.ts';

const t = texts.sight;

/** The smallest series resistance that shows; nothing where the check is not about one. */
export function VisibleSeries({ judgement: { sight } }: { judgement: Judgement }) {
  const series = sight?.visibleSeries ?? null;
  if (series === null) return null;
  const text = series.withLoad !== null ? roundText('resistance', series.withLoad)
    : series.meterAlone !== null ? t.meterAlone(roundText('resistance', series.meterAlone)) : t.noLoad;
  return <><dt>{t.series}</dt><dd>{text}</dd></>;
}

export function Catching({ judgement: { sight } }: { judgement: Judgement }) {
  if (!sight) return null;
  return (
    <>
      <dt>{t.caught}</dt><dd>{sight.caughtLength === null ? t.none : sayTime(sight.caughtLength)}</dd>
      {sight.catching.map(({ length, chance, atMost }) => <><dt>{t.chance(sayTime(length))}</dt><dd>{shareText(chance, atMost)}</dd></>)}
      {sight.catching.some(({ atMost }) => atMost !== undefined) && <><dt>{t.coarse}</dt><dd>{t.coarseMeans}</dd></>}
    </>
  );
}

function shareText(chance: number, atMost?: number): string {
  return atMost === undefined || sayShare(chance) === sayShare(atMost) ? sayShare(chance) : t.between(sayShare(chance), sayShare(atMost));
}
