/** The calibration report: what each bench gave last, and the table that is made of it. Pure. */

/** What one bench gave, and when. */
export interface TopicResult {
  /** ISO 8601 date. */
  readonly date: string;
  /** Processes that wanted a core when it was over, as the system's load average tells; null when not noted. */
  readonly load: number | null;
  readonly cores: number;
  readonly processor: string;
  readonly node: string;
  /** As the bench returned it, seeds among it. */
  readonly results: unknown;
}

/** A row whose bench has not been run for the report yet: its value was copied by hand. */
export interface OldRow {
  readonly figure: string;
  readonly date: string;
  readonly value: string;
}

export interface Report {
  readonly topics: Readonly<Record<string, TopicResult>>;
  readonly old: readonly OldRow[];
}

/** One row of the table: of a bench, or (topic null) taken by hand. */
export type Figure = BenchFigure | { readonly topic: null; readonly figure: string };

export interface BenchFigure {
  /** Name of the bench. */
  readonly topic: string;
  readonly figure: string;
  /** True for times and speeds: the load of the machine then belongs to the value. */
  readonly isTimed?: boolean;
  /** @throws {MissingResult} when the results do not hold what it needs */
  readonly say: (results: unknown) => string;
}

export class MissingResult extends Error {
  readonly code = 'RESULT_MISSING';
}

/** What the bench of several topics printed. */
export interface BenchOutput extends Omit<TopicResult, 'results' | 'load'> {
  readonly topics: Readonly<Record<string, { readonly load: number; readonly results: unknown }>>;
}

/** The report with the topics of this run in place of what they gave before. */
export function withRun(report: Report, { date, cores, processor, node, topics }: BenchOutput): Report {
  const fresh = Object.fromEntries(Object.entries(topics).map(([name, { load, results }]) => [name, { date, load, cores, processor, node, results }]));
  return { ...report, topics: { ...report.topics, ...fresh } };
}

/**
 * The table as lines of Markdown. A figure whose bench has not been run for the report keeps its old row; without one it is left out.
 * @throws {MissingResult} when a bench no longer gives what its figure needs
 */
export function tableLines(report: Report, figures: readonly Figure[]): string[] {
  const rows = figures.flatMap((own) => {
    const run = own.topic === null ? undefined : report.topics[own.topic];
    if (own.topic !== null && run !== undefined) return [{ figure: own.figure, value: sayOf(own, run), bench: `\`${own.topic}\``, date: run.date }];
    const old = report.old.find((row) => row.figure === own.figure);
    return old === undefined ? [] : [{ ...old, bench: own.topic === null ? 'none, by hand' : `\`${own.topic}\`` }];
  });
  return ['| figure | value | bench | run |', '|---|---|---|---|', ...rows.map(({ figure, value, bench, date }) => `| ${figure} | ${value} | ${bench} | ${date} |`)];
}

function sayOf({ topic, figure, isTimed, say }: BenchFigure, { results, load, cores }: TopicResult): string {
  try {
    return `${say(results)}${isTimed === true && load !== null ? ` (${load} processes wanting ${cores} cores)` : ''}`;
  } catch (error) {
    if (error instanceof MissingResult) throw new MissingResult(`bench ${topic}, "${figure}": ${error.message}`);
    throw error;
  }
}

export const TABLE_BEGIN = '<!-- figures: made by `npm run bench -- report`, not by hand -->';
export const TABLE_END = '<!-- end of figures -->';

/**
 * The document with the table between its two markers replaced.
 * @throws {RangeError} for a document without both markers
 */
export function withTable(markdown: string, lines: readonly string[]): string {
  const begin = markdown.indexOf(TABLE_BEGIN);
  const end = markdown.indexOf(TABLE_END);
  if (begin < 0 || end < begin) throw new RangeError(`the document holds no "${TABLE_BEGIN}" with "${TABLE_END}" after it`);
  return `${markdown.slice(0, begin + TABLE_BEGIN.length)}\n${lines.join('\n')}\n${markdown.slice(end)}`;
}

/** What stands at a path of keys. @throws {MissingResult} when nothing does */
export function resultAt(results: unknown, ...path: readonly string[]): unknown {
  let at = results;
  for (const key of path) {
    at = typeof at === 'object' && at !== null ? (at as Record<string, unknown>)[key] : undefined;
    if (at === undefined) throw new MissingResult(`no ${path.join(', ')} in the results`);
  }
  return at;
}

/** As `resultAt`, a number. @throws {MissingResult} when it is none */
export function numberAt(results: unknown, ...path: readonly string[]): number {
  const value = resultAt(results, ...path);
  if (typeof value !== 'number') throw new MissingResult(`${path.join(', ')} is no number`);
  return value;
}

/** The values of an object, in its order. @throws {MissingResult} when it is none */
export function partsAt(results: unknown, ...path: readonly string[]): readonly (readonly [string, unknown])[] {
  const value = resultAt(results, ...path);
  if (typeof value !== 'object' || value === null) throw new MissingResult(`${path.join(', ')} has no parts`);
  return Object.entries(value);
}
