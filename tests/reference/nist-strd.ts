/**
 * NIST Statistical Reference Datasets (StRD), Univariate Summary Statistics, files Lew.dat, Lottery.dat, Mavro.dat, Michelso.dat, NumAcc3.dat and
 * NumAcc4.dat: data or their rule, and certified values. Read through the copies at
 * https://github.com/mathnet/mathnet-numerics/tree/84e9432bc1e8a6b2ae7acd32cda4175abeaeaed1/data/NIST
 * PiDigits: certified values and the one digit in which the data differ from pi through
 * https://github.com/ab9sq/Rqualification/blob/69f7de4874638357338eb9b316b327f19a41c562/R/univariateData.R
 * Two sets are left out, since no such reading is called steady: NumAcc1 has three values, those of NumAcc2 alternate by a sixth of their mean.
 */
export interface NistSet {
  readonly name: string;
  readonly values: readonly number[];
  readonly mean: number;
  /** With n - 1. */
  readonly deviation: number;
}

/** The 1,001 values of one that was made to defeat careless arithmetic: the first, then 500 pairs. */
const alternating = (first: number, pair: readonly [number, number]): number[] => [first, ...Array.from({ length: 500 }, () => pair).flat()];

/** The first digits of pi, 3 first, by Machin's formula pi = 16 arctan(1/5) - 4 arctan(1/239) in whole numbers. */
export function digitsOfPi(count: number): number[] {
  const scale = 10n ** BigInt(count + 10);
  const arctanOfInverse = (x: bigint): bigint => {
    let term = scale / x;
    let sum = term;
    for (let k = 3n, sign = -1n; term !== 0n; k += 2n, sign = -sign) {
      term /= x * x;
      sum += sign * (term / k);
    }
    return sum;
  };
  return [...String(16n * arctanOfInverse(5n) - 4n * arctanOfInverse(239n)).slice(0, count)].map(Number);
}

/** The digit at 956, counted from 0, is 3 in the data set where pi has 8: the certified values are those of the data set. */
const piDigits = (): number[] => digitsOfPi(5000).map((digit, i) => (i === 956 ? 3 : digit));

export const nistSets: readonly NistSet[] = [
  { name: 'NumAcc3', values: alternating(1000000.2, [1000000.1, 1000000.3]), mean: 1000000.2, deviation: 0.1 },
  { name: 'NumAcc4', values: alternating(10000000.2, [10000000.1, 10000000.3]), mean: 10000000.2, deviation: 0.1 },
  { name: 'PiDigits', values: piDigits(), mean: 4.5348, deviation: 2.86733906028871 },
  {
    name: 'Lew', mean: -177.435, deviation: 277.332168044316, // steel-concrete beam deflection
    values: [
      -213, -564, -35, -15, 141, 115, -420, -360, 203, -338, -431, 194, -220, -513, 154, -125, -559, 92, -21, -579, -52, 99, -543, -175, 162, -457, -346, 204, -300, -474,
      164, -107, -572, -8, 83, -541, -224, 180, -420, -374, 201, -236, -531, 83, 27, -564, -112, 131, -507, -254, 199, -311, -495, 143, -46, -579, -90, 136, -472, -338,
      202, -287, -477, 169, -124, -568, 17, 48, -568, -135, 162, -430, -422, 172, -74, -577, -13, 92, -534, -243, 194, -355, -465, 156, -81, -578, -64, 139, -449, -384,
      193, -198, -538, 110, -44, -577, -6, 66, -552, -164, 161, -460, -344, 205, -281, -504, 134, -28, -576, -118, 156, -437, -381, 200, -220, -540, 83, 11, -568, -160,
      172, -414, -408, 188, -125, -572, -32, 139, -492, -321, 205, -262, -504, 142, -83, -574, 0, 48, -571, -106, 137, -501, -266, 190, -391, -406, 194, -186, -553, 83,
      -13, -577, -49, 103, -515, -280, 201, 300, -506, 131, -45, -578, -80, 138, -462, -361, 201, -211, -554, 32, 74, -533, -235, 187, -372, -442, 182, -147, -566, 25, 68,
      -535, -244, 194, -351, -463, 174, -125, -570, 15, 72, -550, -190, 172, -424, -385, 198, -218, -536, 96,
    ],
  },
  {
    name: 'Lottery', mean: 518.95871559633, deviation: 291.699727470969, // three-digit lottery numbers
    values: [
      162, 671, 933, 414, 788, 730, 817, 33, 536, 875, 670, 236, 473, 167, 877, 980, 316, 950, 456, 92, 517, 557, 956, 954, 104, 178, 794, 278, 147, 773, 437, 435, 502,
      610, 582, 780, 689, 562, 964, 791, 28, 97, 848, 281, 858, 538, 660, 972, 671, 613, 867, 448, 738, 966, 139, 636, 847, 659, 754, 243, 122, 455, 195, 968, 793, 59,
      730, 361, 574, 522, 97, 762, 431, 158, 429, 414, 22, 629, 788, 999, 187, 215, 810, 782, 47, 34, 108, 986, 25, 644, 829, 630, 315, 567, 919, 331, 207, 412, 242, 607,
      668, 944, 749, 168, 864, 442, 533, 805, 372, 63, 458, 777, 416, 340, 436, 140, 919, 350, 510, 572, 905, 900, 85, 389, 473, 758, 444, 169, 625, 692, 140, 897, 672,
      288, 312, 860, 724, 226, 884, 508, 976, 741, 476, 417, 831, 15, 318, 432, 241, 114, 799, 955, 833, 358, 935, 146, 630, 830, 440, 642, 356, 373, 271, 715, 367, 393,
      190, 669, 8, 861, 108, 795, 269, 590, 326, 866, 64, 523, 862, 840, 219, 382, 998, 4, 628, 305, 747, 247, 34, 747, 729, 645, 856, 974, 24, 568, 24, 694, 608, 480,
      410, 729, 947, 293, 53, 930, 223, 203, 677, 227, 62, 455, 387, 318, 562, 242, 428, 968,
    ],
  },
  {
    name: 'Mavro', mean: 2.001856, deviation: 0.000429123454003053, // filter transmittance
    values: [
      2.0018, 2.0017, 2.0018, 2.0019, 2.0018, 2.0017, 2.0015, 2.0014, 2.0015, 2.0015, 2.0017, 2.0018, 2.0018, 2.0019, 2.0019, 2.0021, 2.002, 2.0016, 2.0014, 2.0013,
      2.0013, 2.0015, 2.0015, 2.0016, 2.0015, 2.0014, 2.0013, 2.0014, 2.0015, 2.0014, 2.0015, 2.0016, 2.0015, 2.0016, 2.0019, 2.002, 2.002, 2.0021, 2.0022, 2.0023, 2.0024,
      2.0025, 2.0027, 2.0026, 2.0026, 2.0026, 2.0027, 2.0026, 2.0025, 2.0024,
    ],
  },
  {
    name: 'Michelso', mean: 299.8524, deviation: 0.0790105478190518, // speed of light in air, 1879, Mm/s
    values: [
      299.85, 299.74, 299.9, 300.07, 299.93, 299.85, 299.95, 299.98, 299.98, 299.88, 300.0, 299.98, 299.93, 299.65, 299.76, 299.81, 300.0, 300.0, 299.96, 299.96, 299.96,
      299.94, 299.96, 299.94, 299.88, 299.8, 299.85, 299.88, 299.9, 299.84, 299.83, 299.79, 299.81, 299.88, 299.88, 299.83, 299.8, 299.79, 299.76, 299.8, 299.88, 299.88,
      299.88, 299.86, 299.72, 299.72, 299.62, 299.86, 299.97, 299.95, 299.88, 299.91, 299.85, 299.87, 299.84, 299.84, 299.85, 299.84, 299.84, 299.84, 299.89, 299.81,
      299.81, 299.82, 299.8, 299.77, 299.76, 299.74, 299.75, 299.76, 299.91, 299.92, 299.89, 299.86, 299.88, 299.72, 299.84, 299.85, 299.85, 299.78, 299.89, 299.84,
      299.78, 299.81, 299.76, 299.81, 299.79, 299.81, 299.82, 299.85, 299.87, 299.87, 299.81, 299.74, 299.81, 299.94, 299.95, 299.8, 299.81, 299.87,
    ],
  },
];
