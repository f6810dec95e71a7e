/** Everything that happened in a take, by kind, each a click away from its place on the trace. */
import { useEffect, useRef } from 'preact/hooks';
import { sayTime } from '../../../server/diagnosis/wording.ts';
import type { TakeSummary } from '../../../server/session/session.ts';
import { judgedQuantity } from '../../check-words.ts';
import { depthText, readingText } from '../../figures/reading-text.ts';
import { clockText, dropoutLengthText, durationText } from '../../figures/time-text.ts';
import { Choice } from '../../parts/choice.tsx';
import { Icon } from '../../parts/glyphs.tsx';
import { texts } from '../../texts.ts';
import type { LaneItem } from '../../trace/lane.ts';

export const EVENT_FILTERS = ['all', 'dropout', 'other', 'gap', 'mark'] as const;
export type EventFilter = (typeof EVENT_FILTERS)[number];

/** The events that a filter lets through, in order of time. */
export function filteredEvents(items: readonly LaneItem[], filter: EventFilter): LaneItem[] {
  return items.filter((item) => filter === 'all' || item.row === filter).sort((a, b) => a.from - b.from || a.to - b.to);
}

interface Props {
  readonly take: TakeSummary;
  readonly events: readonly LaneItem[];
  readonly filter: EventFilter;
  readonly onFilter: (filter: EventFilter) => void;
  readonly chosen: LaneItem | null;
  readonly onChoose: (event: LaneItem) => void;
  /** 1 for the next, -1 for the one before. */
  readonly onStep: (by: 1 | -1) => void;
}

export function EventList({ take, events, filter, onFilter, chosen, onChoose, onStep }: Props) {
  const t = texts.events;
  const list = useRef<HTMLDivElement>(null);
  useEffect(() => {
    list.current?.querySelector('.is-chosen')?.scrollIntoView({ block: 'nearest' });
  }, [chosen]);
  return (
    <section class="events" aria-label={t.title}>
      <div class="events-head">
        <Choice name="event-filter" label={t.filter} options={EVENT_FILTERS} value={filter} text={(name) => t.filters[name]} onChoose={onFilter} />
        <div class="events-step" role="group" aria-label={t.step}>
          <button type="button" disabled={events.length === 0} onClick={() => onStep(-1)}><Icon name="left" /> {t.previous}</button>
          <button type="button" disabled={events.length === 0} onClick={() => onStep(1)}>{t.next} <Icon name="right" /></button>
        </div>
      </div>
      <div class="events-scroll" ref={list} tabIndex={0} role="group" aria-label={t.title}>
        {events.length === 0 ? <p class="empty">{filter === 'dropout' ? texts.dropouts.noneEver : t.none}</p> : (
          <table>
            <thead><tr>
              <th scope="col">{t.event}</th><th scope="col">{texts.dropouts.at}</th><th scope="col">{t.what}</th>
              <th scope="col">{texts.dropouts.length}</th><th scope="col">{texts.dropouts.departures}</th>
            </tr></thead>
            <tbody>{events.map((event) => <Row key={`${event.kind} ${event.number}`} take={take} event={event} isChosen={event === chosen} onChoose={onChoose} />)}</tbody>
          </table>
        )}
      </div>
    </section>
  );
}

function Row({ take, event, isChosen, onChoose }: { take: TakeSummary; event: LaneItem; isChosen: boolean; onChoose: (event: LaneItem) => void }) {
  const { what, lasted, times } = describe(take, event);
  const name = texts.events.kinds[event.kind](event.number);
  return (
    <tr class={isChosen ? 'is-chosen' : ''}>
      <th scope="row"><button type="button" aria-pressed={isChosen} aria-label={texts.events.goTo(name)} onClick={() => onChoose(event)}>{name}</button></th>
      <td>{clockText(event.from - take.start, 2)}</td>
      {lasted === '' ? <><td class="wraps" colSpan={2}>{what}</td><td>{times}</td></> : <><td class="wraps">{what}</td><td>{lasted}</td><td>{times}</td></>}
    </tr>
  );
}

function describe(take: TakeSummary, event: LaneItem): { what: string; lasted: string; times: string } {
  const { judgement } = take;
  const quantity = judgedQuantity(judgement, take.check);
  const value = (v: number | null) => readingText(quantity, v, judgement.resolution);
  const at = event.number - 1;
  switch (event.kind) {
    case 'dropout': {
      const dropout = judgement.dropouts[at]!;
      return {
        what: dropout.overRange ? texts.dropouts.beyond : depthText(quantity, dropout.depth, judgement.resolution),
        lasted: dropoutLengthText(dropout), times: String(dropout.count),
      };
    }
    case 'sag': return { what: depthText(quantity, judgement.sags[at]!.depth, judgement.resolution), lasted: durationText(Math.max(0, event.to - event.from)), times: '' };
    case 'shift': {
      const shift = judgement.shifts[at]!;
      const end = (v: number | null) => (v === null ? texts.reading.beyond : value(v));
      return { what: texts.events.shift(end(shift.from), end(shift.to)), lasted: '', times: '' };
    }
    // As the reasons of the verdict say it.
    case 'gap': return { what: texts.events.gap, lasted: sayTime(Math.max(0, event.to - event.from)), times: '' };
    case 'zone': return { what: event.text, lasted: durationText(Math.max(0, event.to - event.from)), times: '' };
    case 'mark': return { what: event.text, lasted: '', times: '' };
  }
}
