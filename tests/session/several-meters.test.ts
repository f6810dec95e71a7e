import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { alder7Chart, alder7Checks } from '../../server/demo/index.ts';
import { chainThrough } from '../../server/session/chart-chain.ts';
import type { SampleColumns } from '../../server/diagnosis/index.ts';
import { circuitOf } from '../../server/session/chart-circuit.ts';
import { readingOf } from '../../server/session/check-reading.ts';
import type { Check, MarkRecord, MeterRecord, TakeRecord } from '../../server/session/session.ts';
import { kindBeside } from '../../server/session/several-meters.ts';
import { TakeWatch } from '../../server/session/take-watch.ts';
import { columnsOf, Random } from '../signals/index.ts';

const circuit = circuitOf(alder7Chart);
const GROUND = alder7Checks.find(({ id }) => id === 'ground CL-') as Check;
const meterOf = (index: number): MeterRecord => ({ index, address: 'test', label: `m${index}`, simulated: false, interval: 0.1, aperture: 0.1, accuracy: null, leadOhms: null });
const PROOF: MarkRecord[] = [{ id: 1, take: 1, at: 0, text: 'begin', kind: 'rig-proof' }, { id: 2, take: 1, at: 10, text: 'end', kind: 'rig-proof' }];

interface Leads { readonly red: string; readonly black: string }

/** What a meter at these points reads while a span of the demo harness opens at the given times for 0.3 s, by nodal analysis. */
function readings(leads: Leads, span: string | null, opens: readonly number[], seconds: number, seed: number) {
  const check: Check = { ...GROUND, ...leads };
  const healthy = readingOf(alder7Chart, circuit, check);
  const open = span === null ? healthy : readingOf(alder7Chart, circuit, check, [{ kind: 'open', at: span }]);
  const random = new Random(seed);
  return columnsOf(Array.from({ length: seconds * 10 }, (_, i) => {
    const at = (i + 1) / 10;
    const isOpen = opens.some((start) => at > start && at <= start + 0.3);
    return Math.round(((isOpen ? open : healthy) + 0.002 * random.gauss()) / 0.001) * 0.001;
  }), 0.1, { resolution: 0.001 });
}

/** Two or more meters on the demo harness while a span opens six times, once the leads are proved. */
function watched(span: string | null, judged: Leads, beside: readonly Leads[], slip: { meter: number; at: readonly number[] } | null = null, { pieces = [700], later = 0 } = {}) {
  const chain = chainThrough(alder7Chart, [judged, ...beside].flatMap(({ red, black }) => [red, black]));
  const take: TakeRecord = {
    id: 1, check: { ...GROUND, ...judged, condition: '', kind: kindBeside(judged, chain ?? undefined, 'ground') }, watching: 'wiggle', meter: 0, start: later, end: null, ending: 'running',
    beside: beside.map((leads, k) => ({ meter: k + 1, ...leads })), ...(chain === null ? {} : { chain }),
  };
  const watch = new TakeWatch(take, meterOf(0), undefined, beside.map((_, k) => meterOf(k + 1)));
  for (const mark of PROOF) watch.note({ ...mark, at: mark.at + later });
  const opens = [20, 27, 33, 41, 48, 55];
  const all = [judged, ...beside].map((leads, m) => {
    const samples = readings(leads, span, opens, 70, 100 + m);
    // A lead that slips reads nothing.
    if (slip?.meter === m) samples.value.forEach((_, i) => { if (slip.at.some((at) => samples.time[i]! > at && samples.time[i]! <= at + 0.3)) samples.value[i] = 0; });
    return { ...samples, time: samples.time.map((time) => time + later) };
  });
  // Piece by piece, the meters in turn.
  for (let at = 0, k = 0; at < 700; k++) {
    const to = Math.min(700, at + pieces[k % pieces.length]!);
    all.forEach((samples, m) => {
      const piece: SampleColumns = {
        length: to - at, time: samples.time.slice(at, to), value: samples.value.slice(at, to), resolution: samples.resolution.slice(at, to), flags: samples.flags.slice(at, to),
        functionCode: samples.functionCode.slice(at, to),
      };
      if (m === 0) watch.push(piece);
      else watch.pushBeside(m, piece);
    });
    at = to;
  }
  return watch.view(70 + later).judgement;
}

describe('chainThrough(chart, points)', () => {
  it('is the line from the battery through a load and back that holds all points, or null', () => {
    expect(chainThrough(alder7Chart, ['CL-', 'C2/4', 'B-'])).toEqual({
      points: ['B+', 'F4/1', 'F4/2', 'K1/30', 'K1/87', 'C1/3', 'C2/1', 'CL+', 'CL-', 'S3', 'C2/4', 'C1/6', 'G2', 'B-'], loadAfter: 'CL+',
    });
    expect(chainThrough(alder7Chart, ['LP-', 'B-'])?.loadAfter).toBe('LP+');
    expect(chainThrough(alder7Chart, ['LP-', 'CL-'])).toBeNull();
    expect(chainThrough(alder7Chart, ['nowhere'])).toBeNull();
  });
});

describe('two meters on the demo harness', () => {
  it.each([
    ['S3 to C2/4', 'CL-', 'C2/4', 'CL-', 'C2/4'],
    ['C2/4 to C1/6', 'C2/4', 'C1/6', 'C2/4', 'C1/6'],
    ['C1/6 to G2', 'CL-', 'C1/6', 'C1/6', 'B-'],
  ])('%s opens: meters at %s and %s place it between %s and %s', (span, first, second, from, to) => {
    const judgement = watched(span, { red: first, black: 'B-' }, [{ red: second, black: 'B-' }]);
    expect(judgement.several!.places[0]).toMatchObject({ place: { kind: 'between', from, to } });
    expect(judgement.several!.places[0]!.chance).toBeGreaterThan(0.8);
    expect(judgement.verdict).toBe('intermittent');
    expect(judgement.reasons[1]).toBe(judgement.several!.message);
    expect(judgement.several!.coincidences).toHaveLength(6);
    const isSeenByBoth = to === 'B-';
    for (const coincidence of judgement.several!.coincidences) {
      expect(coincidence.seenBy).toHaveLength(isSeenByBoth ? 2 : 1);
      expect(coincidence.missedBy).toHaveLength(isSeenByBoth ? 0 : 1);
    }
  });

  it('a break on the supply side lets the meter beyond it fall, and leaves the one before it alone', () => {
    const judgement = watched('C1/3 to C2/1', { red: 'CL+', black: 'B-' }, [{ red: 'C1/3', black: 'B-' }]);
    expect(judgement.several!.places[0]).toMatchObject({ place: { kind: 'between', from: 'C1/3', to: 'CL+' } });
    expect(judgement.several!.message).toContain('The break lies between C1/3 and CL+');
    expect(judgement.several!.message).toContain('6 dropouts seen at CL+ to B-, not at C1/3 to B-');
  });

  it('what they say together depends neither on how their readings were cut, nor on when the session began', () => {
    const of = (cut?: { pieces?: number[]; later?: number }) => watched('C2/4 to C1/6', { red: 'CL-', black: 'B-' }, [{ red: 'C2/4', black: 'B-' }, { red: 'C1/6', black: 'B-' }], null, cut);
    const whole = of();
    fc.assert(fc.property(fc.array(fc.integer({ min: 1, max: 90 }), { minLength: 1, maxLength: 6 }), (pieces) => {
      expect(of({ pieces })).toEqual(whole);
    }), { numRuns: 5, examples: [[[1]]] });
    // By a power of two, so that times keep their differences.
    const later = of({ later: 4096 });
    expect(later.several!.message).toBe(whole.several!.message);
    later.several!.places.forEach(({ place, chance }, k) => {
      expect(place).toEqual(whole.several!.places[k]!.place);
      expect(chance).toBeCloseTo(whole.several!.places[k]!.chance, 9);
    });
    later.several!.coincidences.forEach(({ start, seenBy }, k) => {
      expect(start - 4096).toBeCloseTo(whole.several!.coincidences[k]!.start, 5);
      expect(seenBy).toEqual(whole.several!.coincidences[k]!.seenBy);
    });
  });

  it('three meters close in further', () => {
    const judgement = watched('C2/4 to C1/6', { red: 'CL-', black: 'B-' }, [{ red: 'C2/4', black: 'B-' }, { red: 'C1/6', black: 'B-' }]);
    expect(judgement.several!.places[0]).toMatchObject({ place: { kind: 'between', from: 'C2/4', to: 'C1/6' } });
    expect(judgement.several!.places[0]!.chance).toBeGreaterThan(0.95);
  });

  it('nothing opens: says so, and the verdict is that of the one meter', () => {
    const judgement = watched(null, { red: 'CL-', black: 'B-' }, [{ red: 'C2/4', black: 'B-' }]);
    expect(judgement.several).toMatchObject({ coincidences: [], message: 'No dropout at any of the 2 meters so far.' });
    expect(judgement.dropouts).toEqual([]);
  });

  it('the same on two meters that watch the same points, where only one drops out: its leads, so that the circuit is not called intermittent', () => {
    const judgement = watched(null, { red: 'CL+', black: 'B-' }, [{ red: 'CL+', black: 'B-' }], { meter: 0, at: [20, 27, 33, 41] });
    expect(judgement.dropouts).toHaveLength(4);
    expect(judgement.several!.places[0]!.place).toEqual({ kind: 'leads', meter: 'CL+ to B-' });
    expect(judgement.verdict).toBe('undecided');
    expect(judgement.reasons[0]).toContain('slip');
  });

  it('without a line through the points it still says which meter saw what', () => {
    const judgement = watched('S3 to C2/4', { red: 'CL-', black: 'B-' }, [{ red: 'LP-', black: 'B-' }]);
    expect(judgement.several!.places).toEqual([]);
    expect(judgement.several!.message).toBe('6 dropouts seen at both meters. The chart has no one line through these points, so the place can\'t be told from that.');
  });
});

it('whichever span of the harness opens, three meters never name a stretch that does not hold it', () => {
  const random = new Random(20261125);
  const line = chainThrough(alder7Chart, ['CL-'])!.points;
  const spans = alder7Chart.spans.filter(({ from, to }) => line.includes(from) && line.includes(to));
  let named = 0;
  for (const span of [...spans, ...spans]) {
    const reds = Array.from({ length: 3 }, () => random.pick(line.slice(1, -1)));
    const judgement = watched(span.id, { red: reds[0]!, black: 'B-' }, reds.slice(1).map((red) => ({ red, black: 'B-' })));
    const best = judgement.several?.places[0];
    if (best === undefined || best.chance < 0.9 || judgement.several!.coincidences.length === 0) continue;
    named++;
    expect(best.place.kind === 'between' ? best.place.kind : `${span.id}, ${reds.join()}: ${JSON.stringify(best)}`).toBe('between');
    if (best.place.kind !== 'between') continue;
    expect(line.indexOf(best.place.from), `${span.id}, ${reds.join()}: ${JSON.stringify(best)}`).toBeLessThanOrEqual(line.indexOf(span.from));
    expect(line.indexOf(best.place.to), `${span.id}, ${reds.join()}: ${JSON.stringify(best)}`).toBeGreaterThanOrEqual(line.indexOf(span.to));
  }
  expect(named).toBeGreaterThan(0);
});

it('a point that only loses the drop of the current that stops has not seen the break: coarse pace, so that its return looks like a dropout', () => {
  // C2/4 reads 0.135 V while the current flows and 0 V while S3 is open; CL- goes from 0.22 V to the supply.
  const chain = chainThrough(alder7Chart, ['CL-', 'C2/4', 'B-'])!;
  const take: TakeRecord = {
    id: 1, check: { ...GROUND, condition: '' }, watching: 'wiggle', meter: 0, start: 0, end: null, ending: 'running', beside: [{ meter: 1, red: 'C2/4', black: 'B-' }], chain,
  };
  const watch = new TakeWatch(take, meterOf(0), undefined, [meterOf(1)]);
  const shown = (closed: number, open: number) => columnsOf(Array.from({ length: 200 }, (_, i) => Number(((i >= 60 && i % 25 < 4 ? open : closed) + (i % 3) / 1000).toFixed(3))), 0.05, { resolution: 0.001 });
  watch.push(shown(0.219, 12.5));
  watch.pushBeside(1, shown(0.135, 0));
  const { several } = watch.view(10).judgement;
  expect(several!.coincidences.map(({ seenBy }) => seenBy)).toEqual(Array.from({ length: 5 }, () => ['CL- to B-']));
  expect(several!.places[0]).toMatchObject({ place: { kind: 'between', from: 'CL-', to: 'C2/4' } });
});

describe('the voltage of the system', () => {
  it('says how much of a short break a slow meter beside would have shown: on 48 V its silence speaks against a place that it watches', () => {
    const slow = { ...meterOf(1), interval: 1, aperture: 1 };
    const chanceOfSpan = (supply?: number): number => {
      const check: Check = { ...GROUND, red: 'CL-', black: 'G1', condition: '', limits: { low: null, high: null } };
      const bare: Check = { ...check };
      delete (bare as { supply?: number }).supply;
      const take: TakeRecord = {
        id: 1, check: supply === undefined ? bare : { ...bare, supply }, watching: 'wiggle', meter: 0, start: 0, end: null, ending: 'running', beside: [{ meter: 1, red: 'CL-', black: 'B-' }],
        chain: { points: ['B+', 'CL+', 'CL-', 'G1', 'B-'], loadAfter: 'CL+' },
      };
      const watch = new TakeWatch(take, meterOf(0), undefined, [slow]);
      for (const mark of PROOF) watch.note(mark);
      const random = new Random(7);
      watch.push(columnsOf(Array.from({ length: 1200 }, (_, i) => (i === 400 || i === 700 ? 6 : 0.02) + 0.002 * random.gauss()), 0.1));
      watch.pushBeside(1, columnsOf(Array.from({ length: 120 }, () => 0.03 + 0.4 * random.gauss()), 1));
      const place = watch.view(120).judgement.several?.places.find(({ place: { kind } }) => kind === 'between');
      return place?.chance ?? Number.NaN;
    };
    // A tenth of its aperture: 1.2 V of 12 V lies within its noise, 4.8 V of 48 V does not.
    expect(chanceOfSpan(48)).toBeLessThan(chanceOfSpan());
  });
});
