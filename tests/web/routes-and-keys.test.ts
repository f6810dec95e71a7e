import { describe, expect, it } from 'vitest';
import { parseRoute, routeHash, type Route } from '../../web/routes.ts';
import { limitsText, typedNumber } from '../../web/check-words.ts';

describe('parseRoute(hash) and routeHash(route)', () => {
  it('are the inverse of each other, whatever the session is called', () => {
    const routes: Route[] = [
      { screen: 'watch' },
      { screen: 'review', session: null, take: null },
      { screen: 'review', session: 'a/b #ä%', take: null },
      { screen: 'review', session: '2026-11-25', take: 12 },
    ];
    for (const route of routes) expect(parseRoute(routeHash(route))).toEqual(route);
  });

  it('lead to the watch screen when there is nothing or nonsense', () => {
    for (const hash of ['', '#', '#nowhere', '#%', '#review%']) expect(parseRoute(hash).screen).toBe('watch');
    expect(parseRoute('#review/s/x')).toEqual({ screen: 'review', session: 's', take: null });
  });
});

describe('typedNumber(text)', () => {
  it('takes comma or point, and nothing for nothing', () => {
    expect([typedNumber(' 0,5 '), typedNumber('12.5'), typedNumber('-3'), typedNumber('')]).toEqual([0.5, 12.5, -3, null]);
  });

  it('refuses what is no number', () => {
    for (const text of ['a', '1..2', '1 2', '∞']) expect(() => typedNumber(text)).toThrow(RangeError);
  });
});

describe('limitsText(limits, quantity)', () => {
  it('says what must hold', () => {
    expect(limitsText({ low: null, high: 0.5 }, 'voltage')).toBe('not above 0.5 V');
    expect(limitsText({ low: 12.2, high: null }, 'voltage')).toBe('not below 12.2 V');
    expect(limitsText({ low: 50, high: 65 }, 'resistance')).toBe('50 Ω to 65 Ω');
    expect(limitsText({ low: null, high: null }, 'voltage')).toBe('no limits');
  });
});
