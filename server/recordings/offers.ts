/** What the recordings give and take, as plain types and lists: nothing here needs Node, so that the dashboard can share it. */
import type { TimeFormat } from './import/time-format.ts';

export const PLACES = ['recordings', 'archive', 'trash'] as const;
export type Place = (typeof PLACES)[number];

export interface FolderSpace {
  /** Free for this user on the disk, bytes; null when it can't be told. */
  readonly freeBytes: number | null;
  /** Bytes that the sessions take, by place. */
  readonly used: Readonly<Record<Place, number>>;
}

/** sqlite: the whole session as it is, one file that can be added elsewhere. */
export const EXPORT_FORMATS = ['csv', 'json', 'parquet', 'sqlite'] as const;
export type ExportFormat = (typeof EXPORT_FORMATS)[number];

/** Where the fault lies by the readings taken before the first repair. */
export interface FoundByReadings {
  /** Sure enough to open the harness there. */
  readonly isFound: boolean;
  /** Span or component. */
  readonly at: string;
  readonly words: string;
  readonly brief: string;
  readonly chance: number;
}

/** A session file that came from elsewhere. */
export interface Added {
  /** Its name here. */
  readonly added: string;
  readonly takes: number;
  /** All is as it was sealed; else see the findings. */
  readonly isUnchanged: boolean;
  readonly findings: readonly Finding[];
}

export interface Exported {
  readonly samples: number;
  /** Files written, by name. */
  readonly files: readonly string[];
}

export const DELIMITERS = [',', ';', '\t', '|'] as const;
export type Delimiter = (typeof DELIMITERS)[number];

/** local: as the clock of this machine shows it. */
export const ZONES = ['local', 'utc'] as const;
export type Zone = (typeof ZONES)[number];

export interface ValueColumn {
  readonly column: number;
  /** Unit of numbers that come without one, with its prefix, e.g. "mV"; empty when the cells or the unit column name it, or nothing does. */
  readonly unit: string;
  readonly label: string;
}

export interface ImportPlan {
  readonly delimiter: Delimiter;
  readonly decimal: 'point' | 'comma';
  /** Rows before the first row of data, the heading among them. */
  readonly headingRows: number;
  /** Null when the table has no times: then the interval spaces the rows. */
  readonly time: {
    readonly column: number;
    readonly format: TimeFormat;
    /** Column of the date, where it stands apart. */
    readonly dateColumn: number | null;
    /** Of wall times that name no zone. */
    readonly zone: Zone;
  } | null;
  /** s; only used without a time column. */
  readonly interval: number | null;
  /** Each becomes a meter. */
  readonly values: readonly ValueColumn[];
  readonly unitColumn: number | null;
  /** Column with OL, blank, hold, or the words of our own export. */
  readonly flagColumn: number | null;
  /** Value of one count, in the unit of the value; where there is none it follows from the digits. */
  readonly resolutionColumn: number | null;
  /** In our own export: then value and resolution are taken digit by digit as they stand, in the unit of the quantity. */
  readonly quantityColumn: number | null;
  readonly couplingColumn: number | null;
  /** Arrival of the sample on the same clock, s, in our own export. */
  readonly arrivalColumn: number | null;
  /** Number of the take, from 1, in our own export. */
  readonly takeColumn: number | null;
  /** Number of the meter, from 0, in our own export: then there is one column of values. */
  readonly meterColumn: number | null;
}

/** What the user says of the table before the rest of it is guessed. */
export type PlanBeginning = Partial<Pick<ImportPlan, 'delimiter' | 'headingRows'>>;

export interface CsvPreview {
  readonly plan: ImportPlan;
  readonly heading: readonly string[];
  /** The first rows of data. */
  readonly rows: readonly (readonly string[])[];
  /** What the guess is unsure of, as sentences. */
  readonly doubts: readonly string[];
}

export interface Imported {
  readonly session: string;
  readonly samples: number;
  readonly takes: number;
  /** Rows that could not be used, with the first few lines and why. */
  readonly skipped: number;
  readonly skippedFirst: readonly { readonly line: number; readonly why: string }[];
  /** Rows that shared a time and were spread over it. */
  readonly spread: number;
}

export interface Recovered {
  /** Name of the new session. */
  readonly session: string;
  readonly takes: number;
  readonly samples: number;
  /** Pieces (blocks, rows of the tail, records) that could not be read. */
  readonly unreadable: number;
}

/** How something long is followed and stopped. */
export interface Following {
  readonly signal?: AbortSignal | undefined;
  /** Share done, 0 to 1. */
  readonly onProgress?: ((share: number) => void) | undefined;
}

export interface Finding {
  /** Where: "take 3", "take 3, meter 0, samples 32768 to 65535", "seal 12". */
  readonly where: string;
  readonly what: string;
}

export interface Verification {
  /** unchanged: all is as it was sealed; changed: see the findings. */
  readonly state: 'unchanged' | 'changed';
  readonly findings: readonly Finding[];
  readonly seals: number;
  readonly sealedSamples: number;
  /** Samples that no seal covers: those of a running or interrupted take. */
  readonly unsealedSamples: number;
  /** Documents and the like that no seal covers, in a file of the time when they were not sealed. */
  readonly unsealedRecords: readonly string[];
  /** Documents and the like that were written, and sealed, after the hash from the report. */
  readonly writtenSince: readonly string[];
  /** Last hash of the chain, hexadecimal; null when nothing is sealed. */
  readonly hash: string | null;
  /** How a hash from a report compares: the last one, an earlier one (the session went on after the report), or none of this file. */
  readonly reported: 'last' | 'earlier' | 'unknown' | null;
}
