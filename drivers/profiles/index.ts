/**
 * Profiles: what is known of a meter, and where it is kept. profile.ts is pure (shape, accuracy of a reading, lead null);
 * json-folder.ts reads and writes files. Read profile.ts first.
 */
export { layoutFolder, profileFolder } from './json-folder.ts';
export { accuracyOf, NULL_READINGS, nullLeads, parseProfile } from './profile.ts';

export type { FolderContents, JsonFolder } from './json-folder.ts';
export type { LeadNull, ParsedProfile, Profile } from './profile.ts';
