import { afterAll, describe, expect, it } from 'vitest';
import { alder7Chart } from '../../server/demo/index.ts';
import { LocateThread, type SearchOutcome } from '../../server/service/locate-thread.ts';
import { NO_SEARCH, type SearchInput } from '../../server/session/fault-search.ts';

const thread = new LocateThread();
afterAll(() => thread.close());

describe('LocateThread', () => {
  it('answers the newest question only, also when the one before was ended half way', async () => {
    const about = (circuit: string): SearchInput => ({ search: { ...NO_SEARCH, circuit }, chart: alder7Chart, takes: [], meters: [], temperature: 20, repairedAt: null });
    const [circuit] = alder7Chart.circuits;
    const answered: string[] = [];
    const ask = (name: string): Promise<SearchOutcome> => new Promise((resolve) => thread.search(about(circuit!.id), (outcome) => {
      answered.push(name);
      resolve(outcome);
    }));
    void ask('forgotten');
    thread.forget();
    void ask('overtaken');
    expect(await ask('newest')).toMatchObject({ kind: 'done' });
    expect(await ask('next')).toMatchObject({ kind: 'done' });
    expect(answered).toEqual(['newest', 'next']);
  });
});
