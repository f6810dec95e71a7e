/** A date with time of day as the user's language writes it. @param microseconds since 1970-01-01 UTC */
export function dateText(microseconds: number): string {
  return new Date(microseconds / 1000).toLocaleString(document.documentElement.lang, { dateStyle: 'medium', timeStyle: 'short' });
}
