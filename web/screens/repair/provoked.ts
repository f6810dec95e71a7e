/** How a take was provoked, in words; empty when nothing was said. */
import type { TakeSummary } from '../../../server/session/session.ts';
import { texts } from '../../texts.ts';

export function provoked(take: TakeSummary): string {
  const names = new Set((take.account?.provocations ?? []).flatMap(({ provocations }) => provocations));
  return [...names].map((name) => texts.wiggle.provocations[name]).join(', ');
}
