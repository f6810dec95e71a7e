import { describe, expect, it } from 'vitest';
import { wallTimeUs, withStretch } from '../../server/session/wall-time.ts';

const DAY = 86_400;
const begun = Date.UTC(2026, 2, 5, 10) * 1000;
const info = { id: 'a', startedAtUs: begun, title: '', vehicle: '', complaint: '' };

describe('a session that is gone on with', () => {
  it.each([
    ['a week later', 300, begun + (7 * DAY + 300.4) * 1e6, 7 * DAY + 301],
    ['after the wall clock was set back by a day', 300, begun - DAY * 1e6, 301],
    ['at once', 300, begun + 300.2 * 1e6, 301],
    ['by a machine whose clock was never set', 300, 0, 301],
    ['by one that has a clock since, when it had none before', 300, begun + 50 * 365 * DAY * 1e6, 301],
  ])('%s has its clock past everything in it', (_when, newest, nowUs, at) => {
    expect(withStretch(info, newest, nowUs).at).toBe(at);
  });

  it('tells wall time by the stretch that a moment lies in, whatever the wall clock did between them', () => {
    const second = withStretch(info, 300, begun - DAY * 1e6);
    const third = withStretch(second.info, second.at + 60, begun + 2 * DAY * 1e6);
    const wall = (at: number): number => wallTimeUs(third.info, at);
    expect([wall(0), wall(300), wall(second.at), wall(second.at + 60), wall(third.at), wall(third.at + 5)]).toEqual([
      begun, begun + 300e6, begun - DAY * 1e6, begun - DAY * 1e6 + 60e6, begun + 2 * DAY * 1e6, begun + 2 * DAY * 1e6 + 5e6,
    ]);
    expect(third.at).toBeGreaterThan(second.at + 60 + 2 * DAY);
  });
});
