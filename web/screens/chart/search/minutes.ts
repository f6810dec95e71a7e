/** Minutes as a person says them: "2", "0.5". Pure. */
export function minutesText(minutes: number): string {
  return minutes < 1 ? String(Math.max(0.5, Math.round(minutes * 2) / 2)) : String(Math.round(minutes));
}
