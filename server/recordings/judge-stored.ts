/** Judges a take from its stored samples, by the function that judges it live. */
import { TakeJudge } from '../diagnosis/index.ts';
import type { Judgement } from '../diagnosis/judgement.ts';
import { judgeSetup } from '../session/live-session.ts';
import type { SessionReader, StoredTake } from './session-reader.ts';
import { toSamples } from './stored-columns.ts';

const PAGE = 32_768;

/** @param now session clock, s, up to which silence counts; the last sample when not given */
export function judgeStored(reader: SessionReader, { take, meter: known }: StoredTake, now?: number): Judgement {
  const meter = known ?? {
    index: take.meter, address: '', label: '', simulated: false, interval: null, aperture: null, accuracy: null, leadOhms: null,
  };
  const judge = new TakeJudge(judgeSetup(take.check, take.watching, meter));
  for (let from = 0; ; from += PAGE) {
    const samples = reader.samples(take.id, take.meter, from, from + PAGE);
    if (samples.length === 0) break;
    judge.push(toSamples(samples));
  }
  return judge.judgement(now);
}
