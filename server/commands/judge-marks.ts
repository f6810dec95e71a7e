/** A take with what was done in it, and how it moved: judged as the service judges it, with what zones or road say. */
import type { JudgeSetup, Judgement, SampleColumns } from '../diagnosis/index.ts';
import type { Motion } from '../diagnosis/road.ts';
import { roadReport, TakeWatch } from '../session/index.ts';
import type { MarkRecord, MeterRecord, TakeRecord } from '../session/index.ts';
import type { MarksSaid } from './judge-output.ts';

/** @param marks  in order, on the clock of the samples; so is @param motion, null when none was measured */
export function judgeWithMarks(setup: JudgeSetup, samples: SampleColumns, marks: readonly MarkRecord[], motion: Motion | null): { judgement: Judgement; said: MarksSaid } {
  const { kind, limits, watching, depth, load, supply, interval, aperture, accuracy, ranges = [], displayCounts = null, leadOhms } = setup;
  const start = samples.time[0] as number;
  const meter: MeterRecord = { index: 0, address: '', label: '', simulated: false, interval, aperture, accuracy, ranges, displayCounts, leadOhms };
  const take: TakeRecord = {
    id: 1, watching, meter: 0, start, end: null, ending: 'stopped',
    check: {
      id: 'file', kind, red: '', black: '', limits, limitsBasis: '', condition: '', instructions: [], cautions: [],
      ...(load ? { load } : {}), ...(supply === undefined ? {} : { supply }), ...(depth === null ? {} : { depth }),
    },
  };
  const watch = new TakeWatch(take, meter);
  for (const mark of marks) watch.note(mark);
  watch.push(samples);
  const { judgement, zones } = watch.view();
  const end = start + judgement.elapsed;
  const road = watching === 'road' && end > start ? roadReport({ start, end }, judgement, marks, motion) : null;
  return { judgement, said: { zones, road } };
}
