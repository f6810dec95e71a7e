/**
 * NIST Statistical Reference Datasets (StRD), Univariate Summary Statistics, files NumAcc3.dat and NumAcc4.dat: rule of the data and certified
 * values. Sets of 1,001 values made to defeat careless arithmetic. Read through the copies at
 * https://github.com/mathnet/mathnet-numerics/tree/84e9432bc1e8a6b2ae7acd32cda4175abeaeaed1/data/NIST
 * NumAcc2 is left out: its values alternate by a sixth of their mean, and such a reading is not called steady.
 */
export const nistNumAcc: readonly { readonly name: string; readonly first: number; readonly pair: readonly [number, number]; readonly mean: number; readonly deviation: number }[] = [
  { name: 'NumAcc3', first: 1000000.2, pair: [1000000.1, 1000000.3], mean: 1000000.2, deviation: 0.1 },
  { name: 'NumAcc4', first: 10000000.2, pair: [10000000.1, 10000000.3], mean: 10000000.2, deviation: 0.1 },
];

/** The 1,001 values of one of them: the first, then 500 pairs. */
export function numAccValues({ first, pair }: (typeof nistNumAcc)[number]): number[] {
  return [first, ...Array.from({ length: 500 }, () => pair).flat()];
}
