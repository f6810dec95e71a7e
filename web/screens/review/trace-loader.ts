/** Loads the samples of the part of a take that is seen; what is on the screen stays until the new part is here. */
import { useEffect, useState } from 'preact/hooks';
import type { SampleFrame } from '../../../server/live/sample-frame.ts';
import { TraceBuffer } from '../../trace/trace-buffer.ts';
import type { Window } from '../../trace/window.ts';
import { fetchTrace } from './recordings.ts';

export interface LoadedTrace {
  readonly samples: TraceBuffer;
  /** Sentence about what went wrong; empty when all is well. */
  readonly trouble: string;
  readonly isLoading: boolean;
}

/** Wheel and fingers change the view many times a second: only where they rest is fetched. */
const REST_MS = 60;
/** A column a pixel of the widest that a plot can be, for twice the part that is seen. */
const columns = (): number => Math.min(4000, 2 * window.innerWidth);

export function useTrace(session: string, take: number, meter: number, interval: number | null, view: Window): LoadedTrace {
  const [loaded, setLoaded] = useState({ samples: new TraceBuffer(1), trouble: '' });
  const [isLoading, setLoading] = useState(true);
  useEffect(() => {
    const abort = new AbortController();
    const timer = setTimeout(() => {
      setLoading(true);
      // Half a screen on either side, so that moving a little shows something at once.
      const margin = (view.to - view.from) / 2;
      void fetchTrace({ session, take, meter, from: view.from - margin, to: view.to + margin, columns: columns() }, abort.signal).then((result) => {
        if (abort.signal.aborted || result.state === 'loading') return;
        setLoading(false);
        if (result.state === 'loaded') setLoaded({ samples: buffered(result.value, interval), trouble: '' });
        else setLoaded((before) => ({ ...before, trouble: result.why }));
      });
    }, REST_MS);
    return () => {
      clearTimeout(timer);
      abort.abort();
    };
  }, [session, take, meter, view.from, view.to]);
  return { ...loaded, isLoading };
}

function buffered(frame: SampleFrame, interval: number | null): TraceBuffer {
  const buffer = new TraceBuffer(Math.max(1, frame.length));
  buffer.append(frame, interval);
  return buffer;
}
