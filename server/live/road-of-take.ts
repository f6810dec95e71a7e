/** The road report of a stored take, from its judgement, its marks and the motion recorded beside it. */
import type { Motion } from '../diagnosis/road.ts';
import type { Library } from '../recordings/index.ts';
import { RecordingError } from '../recordings/index.ts';
import { channelRecord } from '../session/road-channels.ts';
import { roadReport } from '../session/road-report.ts';
import type { RoadReport } from '../session/road-report.ts';

/** @throws {RecordingError} SESSION_NOT_FOUND and others of the library; TAKE_NOT_FOUND */
export async function roadOf(library: Library, session: string, id: number): Promise<RoadReport> {
  const { takes, marks, meters } = await library.contents(session);
  const take = takes.find((own) => own.id === id);
  if (take === undefined) throw new RecordingError('TAKE_NOT_FOUND', 'There is no such take.');
  const { index } = channelRecord('acceleration');
  const motion = meters.some((meter) => meter.index === index) ? await motionOf(library, session, id, index) : null;
  const end = take.end ?? take.start + take.judgement.elapsed;
  return roadReport({ start: take.start, end: Math.max(end, take.start + 1e-6) }, take.judgement, marks.filter((mark) => mark.take === id), motion);
}

async function motionOf(library: Library, session: string, take: number, meter: number): Promise<Motion> {
  const time: number[] = [];
  const size: number[] = [];
  for (;;) {
    const page = await library.samples(session, take, meter, time.length, 262_144);
    for (let i = 0; i < page.length; i++) {
      time.push(page.time[i] as number);
      size.push(page.value[i] as number);
    }
    if (page.length === 0 || time.length >= page.total) return { time, size };
  }
}
