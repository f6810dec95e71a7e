/** The leads, the points that they touch and, between them, the reading: large enough to be read from two metres. */
import type { ComponentChildren } from 'preact';
import { Flag } from '../../../drivers/reading.ts';
import { figureWidth } from '../../figures/figure-width.ts';
import { readingFigures } from '../../figures/reading-text.ts';
import { durationText } from '../../figures/time-text.ts';
import { routeHash } from '../../routes.ts';
import { dropoutAlert, isBeyondRange, live, meter, pulse, reading, staleFor } from '../../state.ts';
import { texts } from '../../texts.ts';

export function Leads() {
  const check = live.value!.check;
  return (
    <div class="leads">
      <Tip lead="red" name={texts.check.redLead} point={check.red} />
      <Figures />
      <Tip lead="black" name={texts.check.blackLead} point={check.black} />
    </div>
  );
}

function Tip({ lead, name, point }: { lead: 'red' | 'black'; name: string; point: string }) {
  return (
    <p class={`tip is-${lead}`}>
      <span class="tip-lead">{name}</span>
      <span class={`tip-point${point === '' ? ' is-open' : ''}`}>{point || texts.check.anywhere}</span>
    </p>
  );
}

function Figures() {
  const shown = reading.value;
  const stale = staleFor.value;
  return (
    <div class={`figures${stale === null ? '' : ' is-old'}`}>
      {shown !== null ? <Value /> : meter.value !== null ? <p class="figures-words">{texts.reading.none}</p> : <NoMeter />}
      <p class="figures-note">
        {shown !== null && <span>{texts.reading.quantity(shown.quantity, shown.coupling)}</span>}
        {stale !== null && <Tag kind="abnormal">{texts.reading.old(durationText(stale))}</Tag>}
        {shown !== null && (shown.flags & Flag.hold) !== 0 && <Tag kind="abnormal">{texts.reading.hold}</Tag>}
        {shown !== null && (shown.flags & Flag.lowBattery) !== 0 && <Tag kind="abnormal">{texts.reading.lowBattery}</Tag>}
        {meter.value?.simulated === true && <Tag kind="plain">{meter.value.playedAt === undefined ? texts.simulated.badge : texts.playing.badge(meter.value.playedAt)}</Tag>}
      </p>
      <DropoutFlag />
    </div>
  );
}

function Tag({ kind, children }: { kind: 'plain' | 'abnormal'; children: ComponentChildren }) {
  return <span class={`tag is-${kind}`}>{children}</span>;
}

/** The empty state leads on. */
function NoMeter() {
  return (
    <>
      <p class="figures-words">{texts.reading.noMeter}</p>
      <p><a class="attach" href={routeHash({ screen: 'meters' })}>{texts.reading.attach}</a></p>
    </>
  );
}

function Value() {
  const shown = reading.value!;
  if (isBeyondRange(shown)) return <p class="figures-words">{(shown.flags & Flag.negative) !== 0 ? '−' : ''}{texts.reading.beyond}</p>;
  if ((shown.flags & Flag.blank) !== 0 || Number.isNaN(shown.value)) return <p class="figures-words">{texts.reading.blank}</p>;
  const figures = readingFigures(shown.quantity, shown.value, shown.resolution);
  return <p class="figures-value" style={{ '--width': figureWidth(figures) }}>{figures.digits} <span class="unit">{figures.unit}</span></p>;
}

/** How long a dropout stays announced on the screen, s: long enough for a glance, steady, never blinking. */
const SHOWN_S = 2.5;

function DropoutFlag() {
  const alert = dropoutAlert.value;
  const now = Math.max(pulse.value, alert.at);
  if (now - alert.at > SHOWN_S) return null;
  return <p class="dropout-flag">{texts.reading.dropoutNow(1)}</p>;
}
