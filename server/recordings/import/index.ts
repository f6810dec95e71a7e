/** Into a session: tables of text from anything. `previewCsv` guesses a plan, the user corrects it, `importCsv` carries it out. Read plan.ts first. */
export { importCsv } from './import-csv.ts';
export { isUnit, previewCsv } from './plan.ts';
export { TIME_FORMATS } from './time-format.ts';

export type { ImportOptions } from './import-csv.ts';
export type { TimeFormat } from './time-format.ts';
