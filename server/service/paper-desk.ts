/** What is written of the session apart from its takes: description, chart and the checks that it offers, cautions that were read, connectors taken apart. */
import { randomUUID } from 'node:crypto';
import { RequestRefused } from '../live/index.ts';
import type { ClientRequest, LiveChart } from '../live/protocol.ts';
import { cautionOf } from '../session/cautions.ts';
import type { Chart } from '../session/chart.ts';
import { problemText, readChart } from '../session/chart-validation.ts';
import { offeredChecks } from '../session/offered-checks.ts';
import { changeLimits, withOwnLimits } from '../session/own-limits.ts';
import { SessionPapers } from '../session/papers.ts';
import type { Check } from '../session/session.ts';
import { changedMeanwhile } from './changed-meanwhile.ts';
import type { SessionFile } from './session-file.ts';

export type PaperRequest = Extract<ClientRequest, { type: 'describe' | 'read-chart' | 'change-chart' | 'change-limits' | 'acknowledge' | 'reseat' }>;
type SaidOfSession = Omit<Extract<ClientRequest, { type: 'describe' }>, 'type' | 'basedOn'>;

export class PaperDesk {
  readonly papers: SessionPapers;
  readonly #file: SessionFile;
  /** The chart that came with the meters at hand, not from the user. */
  #offered: Chart | null;
  #checks: { readonly chart: number; readonly info: number; readonly system: number; readonly limits: unknown; readonly checks: readonly Check[] } | null = null;

  /** @param offered  chart that comes with the meters at hand, or null; one that is the same as that of the papers is taken for it */
  constructor(file: SessionFile, offered: Chart | null, papers: SessionPapers) {
    this.#file = file;
    this.papers = papers;
    this.#offered = offered !== null && JSON.stringify(offered) === JSON.stringify(papers.chart.value) ? papers.chart.value : offered;
  }

  /**
   * Of a new session.
   * @param before  papers of the session before; the chart that a user made goes on with this one unless it is to be left out
   */
  static blank(file: SessionFile, offered: Chart | null, before?: PaperDesk, keepsChart = true): PaperDesk {
    const chart = keepsChart && before?.hasOwnChart === true ? before.chart : offered;
    return new PaperDesk(file, offered, new SessionPapers({ id: randomUUID(), startedAtUs: Date.now() * 1000, title: '', vehicle: '', complaint: '' }, chart, before?.papers));
  }

  get chart(): Chart | null {
    return this.papers.chart.value;
  }

  /** Checks that the chart offers, or one of each kind. */
  checks(): readonly Check[] {
    const { chart, info, limits, system: { volts: system } } = this.papers;
    const known = this.#checks;
    if (known?.chart !== chart.revision || known.info !== info.revision || known.system !== system || known.limits !== limits) {
      const checks = offeredChecks(chart.value, info.value.ambient ?? null, system).map((check) => withOwnLimits(check, limits));
      this.#checks = { chart: chart.revision, info: info.revision, system, limits, checks };
    }
    return this.#checks!.checks;
  }

  /** The chart that comes with the meters at hand (that of a simulation), or null: it takes the place of the one before unless a user has made one. */
  offerChart(chart: Chart | null): void {
    const { value, revision } = this.papers.chart;
    if (value !== this.#offered || chart === value) return;
    this.#offered = chart;
    this.papers.chart.change(revision, chart);
    this.keep('chart');
  }

  get offered(): Chart | null {
    return this.#offered;
  }

  /** A user typed it or brought it in: it is nowhere else. */
  get hasOwnChart(): boolean {
    return this.chart !== null && this.chart !== this.#offered;
  }

  chartInShort(): LiveChart {
    const { revision, value } = this.papers.chart;
    return { revision, name: value?.name ?? null, isOwn: this.hasOwnChart, circuits: value?.circuits.map(({ id, name }) => ({ id, name })) ?? [] };
  }

  /** @param now  session clock, s @param check  at hand @throws {RequestRefused} */
  act(request: PaperRequest, now: number, check: Check): unknown {
    switch (request.type) {
      case 'describe': {
        const { type: _, basedOn, ...said } = request;
        return this.#describe(basedOn, said);
      }
      case 'read-chart':
        return { revision: this.papers.chart.revision, chart: this.chart };
      case 'change-chart':
        return this.#changeChart(request.basedOn, request.chart);
      case 'change-limits': {
        const { type: _, ...change } = request;
        this.papers.limits = changeLimits(this.papers.limits, { ...change, at: now });
        return this.keep('limits');
      }
      case 'acknowledge':
        return this.#acknowledge(request.caution, now, check);
      case 'reseat':
        this.papers.reseats = [{ at: now, connector: request.connector }, ...this.papers.reseats];
        return this.keep('reseats');
    }
  }

  /** Keeps one of the papers in the session's file, when it has one. */
  keep(document: 'chart' | 'cautions' | 'reseats' | 'battery' | 'search' | 'limits'): void {
    this.#file.keep(document, document === 'chart' ? this.chart : this.papers.documents().get(document));
  }

  #describe(basedOn: number | undefined, said: SaidOfSession): { revision: number } {
    const { info } = this.papers;
    if (!this.papers.describe(basedOn, said)) throw changedMeanwhile('description of the session');
    this.#file.updateInfo(info.value);
    return { revision: info.revision };
  }

  #changeChart(basedOn: number, wanted: unknown): { revision: number } {
    const read = wanted === null ? null : readChart(wanted);
    if (read?.kind === 'problems') {
      const more = read.problems.length - 1;
      throw new RequestRefused('BAD_CHART', `${problemText(read.problems[0]!)}${more > 0 ? `, and ${more} more to mend` : ''}.`);
    }
    const { chart } = this.papers;
    if (!chart.change(basedOn, read?.chart ?? null)) throw changedMeanwhile('chart');
    this.keep('chart');
    return { revision: chart.revision };
  }

  #acknowledge(id: string, at: number, check: Check): void {
    const caution = cautionOf(id);
    if (caution === undefined) throw new RequestRefused('NO_SUCH_CAUTION', `There is no caution "${id}".`);
    if (this.papers.hasAcknowledged(caution.id)) return;
    this.papers.acknowledged = [...this.papers.acknowledged, { ...caution, at, check: check.id }];
    this.keep('cautions');
  }
}
