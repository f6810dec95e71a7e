/** A take with what was done in it: judged as the service judges it, with what zones or road say. */
import type { JudgeSetup, Judgement, SampleColumns } from '../diagnosis/index.ts';
import { roadReport, TakeWatch } from '../session/index.ts';
import type { MarkRecord, MeterRecord, TakeRecord } from '../session/index.ts';
import type { MarksSaid } from './judge-output.ts';

/** @param marks  in order, on the clock of the samples */
export function judgeWithMarks(setup: JudgeSetup, samples: SampleColumns, marks: readonly MarkRecord[]): { judgement: Judgement; said: MarksSaid } {
  const { kind, limits, watching, depth, load, interval, aperture, accuracy, leadOhms } = setup;
  const start = samples.time[0] as number;
  const meter: MeterRecord = { index: 0, address: '', label: '', simulated: false, interval, aperture, accuracy, leadOhms };
  const take: TakeRecord = {
    id: 1, watching, meter: 0, start, end: null, ending: 'stopped',
    check: {
      id: 'file', kind, red: '', black: '', limits, limitsBasis: '', condition: '', instructions: [], cautions: [],
      ...(load ? { load } : {}), ...(depth === null ? {} : { depth }),
    },
  };
  const watch = new TakeWatch(take, meter);
  for (const mark of marks) watch.note(mark);
  watch.push(samples);
  const { judgement, zones } = watch.view();
  const end = start + judgement.elapsed;
  const road = watching === 'road' && end > start ? roadReport({ start, end }, judgement, marks, null) : null;
  return { judgement, said: { zones, road } };
}
