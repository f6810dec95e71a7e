import { describe, expect, it } from 'vitest';
import { parseClientMessage } from '../../server/live/requests.ts';

const check = {
  id: 'ground', kind: 'ground', red: 'CL-', black: 'B-', limits: { low: null, high: 0.5 }, limitsBasis: 'common practice',
  condition: 'load on', instructions: [], cautions: [],
};

describe('parseClientMessage', () => {
  it('gives back what a dashboard asks for', () => {
    const message = { request: 3, type: 'start-take', check, watching: 'wiggle' };
    expect(parseClientMessage(JSON.stringify(message))).toEqual({ kind: 'message', message });
  });

  it.each([
    ['no JSON', '{'],
    ['no request number', '{"type":"stop-take"}'],
    ['an unknown type', '{"request":1,"type":"erase"}'],
    ['an unknown kind of check', JSON.stringify({ request: 1, type: 'choose', check: { ...check, kind: 'magic' }, watching: 'spot' })],
    ['limits the wrong way round', JSON.stringify({ request: 1, type: 'choose', check: { ...check, limits: { low: 2, high: 1 } }, watching: 'spot' })],
    ['a mark that is a book', JSON.stringify({ request: 1, type: 'mark', text: 'x'.repeat(401) })],
    ['a flex count that is no number of flexes', '{"request":1,"type":"flex","count":0.5}'],
    ['prototype pollution', '{"request":1,"type":"mark","text":"a","__proto__":{"type":"stop-take"},"constructor":1,"type":"no"}'],
  ])('says what is wrong with %s', (_what, text) => {
    const parsed = parseClientMessage(text);
    expect(parsed).toMatchObject({ kind: 'bad' });
    expect((parsed as { why: string }).why.length).toBeGreaterThan(5);
  });
});
