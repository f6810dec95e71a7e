/** Keeps the screen of a phone awake, as far as the browser can, and says whether it does. */
import { useEffect, useState } from 'preact/hooks';

export type WakeState = 'kept' | 'refused' | 'missing' | 'off';

/** @param isWanted only then is the screen kept awake */
export function useWakeLock(isWanted: boolean): WakeState {
  const [state, setState] = useState<WakeState>('off');
  useEffect(() => {
    if (!isWanted) {
      setState('off');
      return;
    }
    if (!('wakeLock' in navigator)) {
      setState('missing');
      return;
    }
    let lock: WakeLockSentinel | null = null;
    let isOver = false;
    const ask = async (): Promise<void> => {
      if (document.visibilityState !== 'visible') return;
      try {
        lock = await navigator.wakeLock.request('screen');
        if (isOver) await lock.release();
        else setState('kept');
        lock.addEventListener('release', () => {
          if (!isOver) setState('refused');
        });
      } catch {
        setState('refused');
      }
    };
    // The browser takes the lock away whenever the page is hidden.
    const onVisible = (): void => void ask();
    document.addEventListener('visibilitychange', onVisible);
    void ask();
    return () => {
      isOver = true;
      document.removeEventListener('visibilitychange', onVisible);
      void lock?.release();
    };
  }, [isWanted]);
  return state;
}
