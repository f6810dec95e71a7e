/**
 * Hidden faults in random harnesses that differ from their chart: is the right place named, how honest is the
 * chance given, and how many minutes does it take, against halving and against one-by-one checking
 * of the same cases with the same readings' statistics. LOCATE_CASES sets their number.
 */
import { env } from 'node:process';
import { Random } from '../signals/random.ts';
import type { Hunt, Strategy } from '../support/fault-hunt.ts';
import { byHalves, byPlan, calibrationError, hunt, oneByOne, randomCase } from '../support/fault-hunt.ts';

const MOST_COMPARED = 150;

export default {
  name: 'locate',
  run: async (): Promise<object> => {
    const cases = Number(env['LOCATE_CASES'] ?? 1000);
    const seed = Math.floor(Math.random() * 2 ** 31);
    const random = new Random(seed);
    const planned: Hunt[] = [];
    const halved: Hunt[] = [];
    const inTurn: Hunt[] = [];
    const kinds = new Map<string, { cases: number; right: number }>();
    for (let order = 0; order < cases; order++) {
      const own = randomCase(random.fork());
      const readings = random.fork().seed;
      const search = (strategy: Strategy, most?: number): Hunt => hunt(new Random(readings), own, strategy, most);
      const found = search(byPlan);
      planned.push(found);
      const kind = `${own.suspect.intermittent === true ? 'intermittent ' : ''}${own.suspect.kind}`;
      const tally = kinds.get(kind) ?? { cases: 0, right: 0 };
      kinds.set(kind, { cases: tally.cases + 1, right: tally.right + (found.stopped && found.isRight ? 1 : 0) });
      if (order < MOST_COMPARED) {
        halved.push(search(byHalves));
        inTurn.push(search(oneByOne, 80));
      }
    }
    const mean = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length;
    const summary = (hunts: readonly Hunt[]): object => ({
      cases: hunts.length, right: mean(hunts.map((own) => Number(own.stopped && own.isRight))), veryPlace: mean(hunts.map((own) => Number(own.stopped && own.isExact))),
      didNotStop: hunts.filter((own) => !own.stopped).length, minutes: mean(hunts.map((own) => own.minutes)), checks: mean(hunts.map((own) => own.checks)),
    });
    const compared = planned.slice(0, MOST_COMPARED);
    return {
      seed, planned: summary(planned),
      calibrationErrorAtTheEnd: calibrationError(planned.map(({ chance, isRight }) => ({ chance, isRight }))),
      calibrationErrorOfAllSteps: calibrationError(planned.flatMap((own) => own.steps)),
      byKind: Object.fromEntries(kinds),
      sameCases: { planned: summary(compared), halving: summary(halved), oneByOne: summary(inTurn) },
      minutesAgainstHalving: mean(compared.map((own) => own.minutes)) / mean(halved.map((own) => own.minutes)),
      minutesAgainstOneByOne: mean(compared.map((own) => own.minutes)) / mean(inTurn.map((own) => own.minutes)),
    };
  },
};
