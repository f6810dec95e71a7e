/**
 * What belongs to the session apart from its takes: its description, the chart, cautions that were read, connectors that were taken apart, readings
 * of the battery, limits that the user changed, what was found and repaired. Description, chart and repair count their changes, so that two people don't overwrite each other. Pure.
 */
import type { BatteryReading } from './battery-reference.ts';
import type { Caution } from './cautions.ts';
import type { Chart } from './chart.ts';
import type { FaultSearch } from './fault-search.ts';
import { NO_SEARCH } from './fault-search.ts';
import { systemOfBattery } from './limits.ts';
import type { SystemVoltage } from './limits.ts';
import type { OwnLimits } from './own-limits.ts';
import { allPhotos, NO_REPAIR, photoDocument } from './repair.ts';
import type { PhotoContent, RepairFile } from './repair.ts';
import { Revised } from './revised.ts';
import type { SessionInfo } from './session.ts';

export interface Acknowledged extends Caution {
  /** Session clock, s. */
  readonly at: number;
  /** Id of the check at hand. */
  readonly check: string;
}

/** A connector was taken apart and put together: that wipes its contacts, and may have cured the fault. */
export interface Reseat {
  /** Session clock, s. */
  readonly at: number;
  readonly connector: string;
}

/** What a user may say of the session. */
export type Description = Partial<Pick<SessionInfo, 'title' | 'vehicle' | 'complaint' | 'codes' | 'facts' | 'ambient' | 'systemVoltage'>>;

export class SessionPapers {
  readonly info: Revised<SessionInfo>;
  readonly chart: Revised<Chart | null>;
  acknowledged: readonly Acknowledged[] = [];
  /** Newest first. */
  reseats: readonly Reseat[] = [];
  /** Limits that hold for every check of a kind. */
  limits: readonly OwnLimits[] = [];
  /** In order. */
  battery: readonly BatteryReading[] = [];
  readonly repair: Revised<RepairFile>;
  /** By id. */
  readonly photos = new Map<string, PhotoContent>();
  /** What the user says of the fault that is looked for. */
  search: FaultSearch = NO_SEARCH;

  /** @param before  of the session before: revisions go on counting, so that an edit based on it is not taken for one of this session */
  constructor(info: SessionInfo, chart: Chart | null, before?: SessionPapers) {
    this.info = new Revised(info, (before?.info.revision ?? 0) + 1);
    this.chart = new Revised(chart, (before?.chart.revision ?? 0) + 1);
    this.repair = new Revised<RepairFile>(NO_REPAIR, (before?.repair.revision ?? 0) + 1);
  }

  /** The papers of a session that is gone on with. @param documents  as they were kept with it, see `documents` @param before  of the session before */
  static resumed(info: SessionInfo, documents: Readonly<Record<string, unknown>>, before: SessionPapers): SessionPapers {
    const kept = <Content>(name: string, none: Content): Content => (documents[name] as Content | undefined) ?? none;
    const papers = new SessionPapers(info, kept<Chart | null>('chart', null), before);
    papers.acknowledged = kept('cautions', papers.acknowledged);
    papers.reseats = kept('reseats', papers.reseats);
    papers.battery = kept('battery', papers.battery);
    papers.limits = kept('limits', papers.limits);
    papers.repair.amend(kept('repair', NO_REPAIR));
    papers.search = kept('search', NO_SEARCH);
    for (const { id } of allPhotos(papers.repair.value)) {
      const content = kept<PhotoContent | null>(photoDocument(id), null);
      if (content !== null) papers.photos.set(id, content);
    }
    return papers;
  }

  /**
   * @param basedOn  revision that the user saw; undefined: only what is still empty may be filled
   * @returns false when somebody else changed it meanwhile
   */
  describe(basedOn: number | undefined, { title, vehicle, complaint, codes, facts, ambient, systemVoltage }: Description): boolean {
    const said = Object.entries({ title, vehicle, complaint, codes, facts, ambient, systemVoltage }).filter(([, value]) => value !== undefined);
    const now = this.info.value as unknown as Readonly<Record<string, unknown>>;
    const overwrites = said.some(([name, value]) => !isEmpty(now[name]) && JSON.stringify(now[name]) !== JSON.stringify(value));
    if (basedOn === undefined && overwrites) return false;
    return this.info.change(basedOn ?? this.info.revision, { ...this.info.value, ...(Object.fromEntries(said) as Description) });
  }

  /** Session clock, s, of the last repair: takes before it and after it tell of two different circuits. Null when there is none. */
  get repairedAt(): number | null {
    return this.repair.value.repairs.at(-1)?.at ?? null;
  }

  /** Nominal voltage of the system: as said, as the chart has it, as the newest reading of the battery tells, else 12 V. */
  get system(): { readonly volts: SystemVoltage; readonly from: 'said' | 'chart' | 'battery' | 'assumed' } {
    const said = this.info.value.systemVoltage;
    if (this.chart.value !== null) return { volts: this.chart.value.systemVoltage, from: 'chart' };
    if (said !== undefined && said !== null) return { volts: said, from: 'said' };
    const newest = this.battery.at(-1);
    const read = newest === undefined ? null : systemOfBattery(newest.volts);
    return read === null ? { volts: 12, from: 'assumed' } : { volts: read, from: 'battery' };
  }

  hasAcknowledged(caution: string): boolean {
    return this.acknowledged.some(({ id }) => id === caution);
  }

  /** Everything but the description, by the name under which it is kept with the session. */
  documents(): ReadonlyMap<string, unknown> {
    return new Map<string, unknown>([
      ...(this.chart.value === null ? [] : [['chart', this.chart.value] as const]),
      ...(this.acknowledged.length === 0 ? [] : [['cautions', this.acknowledged] as const]),
      ...(this.reseats.length === 0 ? [] : [['reseats', this.reseats] as const]),
      ...(this.battery.length === 0 ? [] : [['battery', this.battery] as const]),
      ...(this.limits.length === 0 ? [] : [['limits', this.limits] as const]),
      ...(this.repair.value === NO_REPAIR ? [] : [['repair', this.repair.value] as const]),
      ...[...this.photos].map(([id, content]) => [photoDocument(id), content] as const),
      ...(this.search === NO_SEARCH ? [] : [['search', this.search] as const]),
    ]);
  }
}

function isEmpty(value: unknown): boolean {
  return value === undefined || value === null || value === '' || (Array.isArray(value) && value.length === 0);
}
