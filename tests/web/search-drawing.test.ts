import { describe, expect, it } from 'vitest';
import { bandOf, chanceByPart } from '../../web/chart/chances.ts';
import { pathOf, pieceOf, spotAt } from '../../web/chart/wire-way.ts';
import { shownFigure } from '../../web/figures/shown-figure.ts';

const fault = (at: string, chance: number, other?: string) => ({ kind: 'open' as const, at, ...(other === undefined ? {} : { other }), intermittent: false, chance, ohms: null, words: '', brief: '' });

describe('chanceByPart(located), bandOf(chance, isFound)', () => {
  it('adds up all kinds of fault of a part, counts a short between at both ends, and takes two faults where two are named', () => {
    const faults = [fault('a', 0.3), fault('a', 0.2), fault('b', 0.1, 'a'), fault('', 0.05)];
    expect([...chanceByPart({ faults, double: null })]).toEqual([['a', 0.6], ['b', 0.1]]);
    expect([...chanceByPart({ faults, double: { chance: 0.9, faults: [fault('c', 0.9), fault('d', 0.9)], words: '' } })]).toEqual([['c', 0.9], ['d', 0.9]]);
  });

  it.each([[0.99, true, 'found'], [0.99, false, 'likely'], [0.4, false, 'likely'], [0.39, false, 'possible'], [0.1, false, 'possible'], [0.01, false, 'little'], [0.009, false, null], [0.009, true, null]])('bandOf(%d, %s) is %s', (chance, isFound, band) => {
    expect(bandOf(chance, isFound)).toBe(band);
  });
});

describe('spotAt, pieceOf, pathOf', () => {
  //  (0,0) ---- (30,0)
  //                |
  //             (30,40) -- (60,40)      100 long
  const way = [{ x: 0, y: 0 }, { x: 30, y: 0 }, { x: 30, y: 40 }, { x: 60, y: 40 }];
  it('go round the corners by length', () => {
    expect(spotAt(way, 0)).toEqual({ x: 0, y: 0 });
    expect(spotAt(way, 0.5)).toEqual({ x: 30, y: 20 });
    expect(spotAt(way, 1)).toEqual({ x: 60, y: 40 });
    expect(pieceOf(way, 0.1, 0.5)).toEqual([{ x: 10, y: 0 }, { x: 30, y: 0 }, { x: 30, y: 20 }]);
    expect(pathOf(pieceOf(way, 0.1, 0.2))).toBe('M10 0L20 0');
  });
});

describe('shownFigure(text)', () => {
  it.each([['0.4', 0.4, 0.1], ['0,35', 0.35, 0.01], ['12', 12, 1], ['1.20', 1.2, 0.01]])('reads "%s" as %d with a last digit of %d', (text, value, count) => {
    const shown = shownFigure(text)!;
    expect(shown.value).toBe(value);
    expect(shown.count).toBeCloseTo(count, 12);
  });
  it('gives nothing for nothing, and refuses what is no number', () => {
    expect(shownFigure(' ')).toBeNull();
    expect(() => shownFigure('OL')).toThrow(RangeError);
  });
});
