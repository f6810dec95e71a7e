/** A recorded take as readings to be played back: its judged meter, from the first sample to the last. */
import type { PlayedReading } from '../../drivers/index.ts';
import { fromFunctionCode } from '../../drivers/reading.ts';
import type { Library } from '../recordings/index.ts';
import { profileOf, type MeterProfile } from '../session/meter-profile.ts';

const PAGE = 4096;

/**
 * @param target  SESSION/TAKE or SESSION/TAKE/METER, as in `playback:` addresses
 * @throws {Error} saying what is wrong with the target, or that there is no such take
 */
export async function* playedRecording(library: Library, target: string): AsyncIterable<PlayedReading> {
  const parts = /^(.+?)\/(\d+)(?:\/(\d+))?$/.exec(target);
  if (parts === null) throw new Error(`"${target}" names no take; write for example playback:SESSION/1`);
  const [, session, takeText, meterText] = parts as unknown as [string, string, string, string | undefined];
  const contents = await library.contents(session);
  const take = contents.takes.find(({ id }) => id === Number(takeText));
  if (take === undefined) throw new Error(`The session ${session} has no take ${takeText}.`);
  const meter = meterText === undefined ? take.meter : Number(meterText);
  for (let from = 0; ; from += PAGE) {
    const page = await library.samples(session, take.id, meter, from, PAGE);
    for (let i = 0; i < page.length; i++) {
      yield {
        time: (page.time[i] as number) - take.start,
        reading: { ...fromFunctionCode(page.functionCode[i] as number), value: page.value[i] as number, resolution: page.resolution[i] as number, flags: page.flags[i] as number },
      };
    }
    if (page.length < PAGE) return;
  }
}

/**
 * What is known of a take's meter, as it is when the take is played: times shrink with the speed, everything else stays.
 * @returns null when there is no such take
 */
export async function profileOfPlayed(library: Library, session: string, number: number, speed: number): Promise<MeterProfile | null> {
  const { takes, meters } = await library.contents(session);
  const take = takes.find(({ id }) => id === number);
  if (take === undefined) return null;
  const meter = meters.find(({ index }) => index === take.meter);
  if (meter === undefined) return {};
  const { interval, aperture } = meter;
  const shrunk = (time: number | null): number | null => (time === null ? null : time / speed);
  return { ...profileOf(meter), label: `Take ${number} of ${session}`.slice(0, 100), interval: shrunk(interval), aperture: shrunk(aperture) };
}
