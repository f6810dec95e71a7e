/** Our own marks. Every state has a shape of its own, so that its colour never carries the meaning alone. */
import type { Verdict } from '../../server/diagnosis/judgement.ts';

/** A wire that is broken and bridged. */
export function BrandMark() {
  return (
    <svg class="brand-mark" viewBox="0 0 40 24" aria-hidden="true">
      <path d="M1 17h10l4-8" fill="none" stroke="currentColor" stroke-width="4" />
      <path d="M39 17H29l-4-8" fill="none" stroke="currentColor" stroke-width="4" />
      <circle cx="20" cy="5" r="4" class="brand-spark" />
    </svg>
  );
}

/** Pass: a whole ring. Fail: a crossed square. Intermittent: a wire with a break in a triangle. Undecided: an open, dotted ring. */
export function VerdictMark({ verdict }: { verdict: Verdict | 'none' }) {
  return (
    <svg class={`verdict-mark is-${verdict}`} viewBox="0 0 48 48" aria-hidden="true">
      {verdict === 'pass' && <><circle cx="24" cy="24" r="21" class="body" /><path d="M13 25l8 8 15-17" class="stroke" /></>}
      {verdict === 'fail' && <><rect x="4" y="4" width="40" height="40" rx="3" class="body" /><path d="M15 15l18 18M33 15L15 33" class="stroke" /></>}
      {verdict === 'intermittent' && <><path d="M24 3L46 44H2z" class="body" /><path d="M10 36h9M29 36h9M24 18v10" class="stroke" /></>}
      {verdict === 'undecided' && <><circle cx="24" cy="24" r="20" class="ring" /><path d="M15 24h4M22 24h4M29 24h4" class="stroke" /></>}
      {verdict === 'none' && <circle cx="24" cy="24" r="20" class="ring" />}
    </svg>
  );
}

const DOTS = {
  good: <circle cx="8" cy="8" r="6" />,
  waiting: <path d="M8 2a6 6 0 1 0 6 6" fill="none" stroke-width="3" />,
  bad: <path d="M8 1l7 13H1z" />,
  off: <circle cx="8" cy="8" r="5" fill="none" stroke-width="2" />,
};

/** State of a connection: full dot, open ring, triangle, hollow dot. */
export function StateDot({ state }: { state: keyof typeof DOTS }) {
  return <svg class={`state-dot is-${state}`} viewBox="0 0 16 16" aria-hidden="true">{DOTS[state]}</svg>;
}

const ICONS = {
  start: <circle cx="12" cy="12" r="8" />,
  play: <path d="M5 3l16 9-16 9z" />,
  stop: <rect x="4" y="4" width="16" height="16" rx="1" />,
  mark: <path d="M5 22V3l14 5-14 5" stroke="currentColor" stroke-width="2.4" />,
  next: <path d="M4 4l9 8-9 8zM16 4h4v16h-4z" />,
  flex: <path d="M2 16c5-12 8 4 12-6 2-5 5-5 8-5" fill="none" stroke="currentColor" stroke-width="3" />,
  sound: <path d="M3 9h4l6-6v18l-6-6H3zM16 8c2 2 2 6 0 8M19 5c4 4 4 10 0 14" stroke="currentColor" stroke-width="1.6" />,
  mute: <path d="M3 9h4l6-6v18l-6-6H3zM16 9l6 6M22 9l-6 6" stroke="currentColor" stroke-width="2" />,
  microphone: <path d="M12 2a3 3 0 0 1 3 3v7a3 3 0 0 1-6 0V5a3 3 0 0 1 3-3zM5 11a7 7 0 0 0 14 0M12 18v4" fill="none" stroke="currentColor" stroke-width="2.2" />,
  settings: <path d="M2 6h11M19 6h3M2 12h3M11 12h11M2 18h11M19 18h3M16 3v6M8 9v6M16 15v6" fill="none" stroke="currentColor" stroke-width="2.4" />,
  devices: <path d="M2 4h13v8H2zM5 16h7M17 9h5v11h-5z" fill="none" stroke="currentColor" stroke-width="2.4" />,
  caution: <path d="M12 2L23 21H1zM12 9v6M12 17v2" fill="none" stroke="currentColor" stroke-width="2.2" />,
  left: <path d="M15 4l-8 8 8 8" fill="none" stroke="currentColor" stroke-width="3" />,
  right: <path d="M9 4l8 8-8 8" fill="none" stroke="currentColor" stroke-width="3" />,
  closer: <path d="M12 4v16M4 12h16" stroke="currentColor" stroke-width="3" />,
  wider: <path d="M4 12h16" stroke="currentColor" stroke-width="3" />,
};

export function Icon({ name }: { name: keyof typeof ICONS }) {
  return <svg class="icon" viewBox="0 0 24 24" aria-hidden="true" fill="currentColor">{ICONS[name]}</svg>;
}
