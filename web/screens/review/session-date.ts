/** When a session began, as this page's language writes it. */

/** @param microseconds  since 1970 */
export function dateText(microseconds: number): string {
  return new Date(microseconds / 1000).toLocaleString(document.documentElement.lang, { dateStyle: 'medium', timeStyle: 'short' });
}
