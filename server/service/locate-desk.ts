/** The search for the fault: what the user says of it is kept with the session, and it is worked out again whenever what it goes by changes. */
import { RequestRefused } from '../live/index.ts';
import type { LiveLocation, LocationRequest } from '../live/location-protocol.ts';
import type { DistanceReadings } from '../session/case-distance.ts';
import { distanceProblems } from '../session/case-distance.ts';
import { LIMITED_CURRENT } from '../session/cautions.ts';
import { pointOf } from '../session/chart.ts';
import { problemText } from '../session/chart-validation.ts';
import type { FaultSearch, SearchInput } from '../session/fault-search.ts';
import { CONDUCTORS_USUAL } from '../session/offered-checks.ts';
import { withOwnLimits } from '../session/own-limits.ts';
import type { MeterRecord } from '../session/session.ts';
import type { LocateThread, SearchOutcome } from './locate-thread.ts';
import type { PaperDesk } from './paper-desk.ts';
import type { TakeDesk } from './take-desk.ts';

export interface LocateDeskParts {
  readonly desk: TakeDesk;
  readonly paper: PaperDesk;
  readonly thread: LocateThread;
  readonly meters: () => readonly MeterRecord[];
  readonly onLocated: (location: LiveLocation) => void;
}

export class LocateDesk {
  readonly #parts: LocateDeskParts;
  #isAsked = false;
  #state: Pick<LiveLocation, 'state' | 'message' | 'result'> = { state: 'asleep', message: '', result: null };

  constructor(parts: LocateDeskParts) {
    this.#parts = parts;
  }

  location(): LiveLocation {
    const { papers } = this.#parts.paper;
    const { search, repairedAt } = papers;
    const { result } = this.#state;
    return {
      ...this.#state, result: result === null ? null : { ...result, located: { ...result.located, next: result.located.next.map((next) => ({ ...next, take: { ...next.take, check: withOwnLimits(next.take.check, papers.limits) } })) } },
      search, repairedAt, caution: { ...LIMITED_CURRENT, isAcknowledged: papers.hasAcknowledged(LIMITED_CURRENT.id) },
    };
  }

  /** @param now  session clock, s @throws {RequestRefused} */
  act(request: LocationRequest, now: number): void {
    if (request.type === 'locate') {
      // Asking again does not work it out again.
      if (!this.#isAsked || this.#state.state === 'failed') {
        this.#isAsked = true;
        if (this.#state.state !== 'working' && this.#state.state !== 'done') this.changed();
      }
      return;
    }
    const { papers } = this.#parts.paper;
    papers.search = this.#said(request, papers.search, now);
    this.#parts.paper.keep('search');
    this.#isAsked = true;
    this.changed();
  }

  /** A reading was captured, a take ended, the chart changed, a repair was noted: what is known may be another thing now. */
  changed(): void {
    const { chart, papers } = this.#parts.paper;
    const { thread } = this.#parts;
    const takes = this.#parts.desk.summaries();
    const { repairedAt } = papers;
    if (chart === null || chart.circuits.length === 0) {
      thread.forget();
      return this.#tell({ state: 'no-chart', message: '', result: null });
    }
    if (!this.#isAsked && !takes.some(({ start }) => repairedAt === null || start >= repairedAt)) {
      thread.forget();
      return this.#tell({ state: 'asleep', message: '', result: null });
    }
    const input: SearchInput = { search: papers.search, chart, takes, meters: this.#parts.meters(), temperature: papers.info.value.ambient ?? CONDUCTORS_USUAL, repairedAt };
    this.#tell({ ...this.#state, state: 'working', message: '' });
    thread.search(input, (outcome) => this.#finish(outcome));
  }

  /** Something that is told with it changed, not what it goes by. */
  retell(): void {
    this.#tell(this.#state);
  }

  #finish(outcome: SearchOutcome): void {
    if (outcome.kind === 'done') return this.#tell({ state: 'done', message: '', result: outcome.result });
    this.#tell({ state: 'failed', message: `The fault could not be searched for: ${outcome.message}. Look whether the chart is whole.`, result: null });
  }

  #said(request: Exclude<LocationRequest, { type: 'locate' }>, search: FaultSearch, now: number): FaultSearch {
    switch (request.type) {
      case 'locate-in':
        if (request.circuit !== null) this.#need(this.#chart().circuits, request.circuit, 'circuit');
        return { ...search, circuit: request.circuit };
      case 'say-load': {
        this.#need(this.#chart().components.filter(({ kind }) => kind === 'load'), request.load, 'load');
        const others = search.loads.filter(({ load }) => load !== request.load);
        return { ...search, loads: request.works === null ? others : [...others, { load: request.load, works: request.works, at: now }] };
      }
      case 'say-panel': {
        this.#need(this.#chart().panels, request.panel, 'panel');
        const others = search.panelsOff.filter((panel) => panel !== request.panel);
        return { ...search, panelsOff: request.isOff ? [...others, request.panel] : others };
      }
      case 'say-state':
        return { ...search, state: { state: request.state, at: now } };
      case 'read-distance': {
        const [problem] = request.distance === null ? [] : distanceProblems(this.#chart(), request.distance);
        if (problem !== undefined) throw new RequestRefused('BAD_DISTANCE', `${problemText(problem)}.`);
        if (request.distance !== null) this.#refuseRestraint(request.distance);
        return { ...search, distance: request.distance };
      }
    }
  }

  /** Nothing is driven through a wire of a restraint system, nor is it put on ohms. */
  #refuseRestraint(distance: DistanceReadings): void {
    if (distance.method === 'drops') return;
    const chart = this.#chart();
    const span = chart.spans.find(({ id }) => id === distance.span);
    if (span === undefined || ![span.from, span.to].some((point) => pointOf(chart, point)?.restraint === true)) return;
    throw new RequestRefused('RESTRAINT_SYSTEM', `${span.id} belongs to a restraint system (airbag): it is never put on ohms and nothing is driven through it.`);
  }

  #chart(): SearchInput['chart'] {
    const { chart } = this.#parts.paper;
    if (chart === null) throw new RequestRefused('NO_CHART', 'There is no chart yet: draw the circuit first.');
    return chart;
  }

  #need(known: readonly { readonly id: string }[], id: string, what: string): void {
    if (!known.some((own) => own.id === id)) throw new RequestRefused('NOT_ON_CHART', `The chart has no ${what} "${id}".`);
  }

  #tell(state: Pick<LiveLocation, 'state' | 'message' | 'result'>): void {
    this.#state = state;
    this.#parts.onLocated(this.location());
  }
}
