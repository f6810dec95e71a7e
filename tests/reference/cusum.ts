/** Published values for the tabular CUSUM, and a public series with a change of level. */

/** Montgomery, Introduction to Statistical Quality Control, Example 9.1 (target 10, sigma 1, k = 0.5, h = 5) and Table 9.2, as quoted in the tests of the process-improve library. */
export const montgomery91 = {
  target: 10, sigma: 1, k: 0.5, h: 5, firstAlarm: 29,
  values: [9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.2, 10.34, 9.03, 11.47, 10.51, 9.4, 10.08, 9.37, 10.62, 10.31, 8.52, 10.84, 10.9, 9.33, 12.29, 11.5, 10.6, 11.08, 10.38, 11.62, 11.31, 10.52],
  upperSums: [0, 0, 0, 1.16, 2.82, 2.5, 0.04, 1.0, 0, 0, 0, 0.97, 0.98, 0, 0, 0, 0.12, 0, 0, 0.34, 0.74, 0, 1.79, 2.79, 2.89, 3.47, 3.35, 4.47, 5.28],
} as const;

/** Average run lengths, two-sided, k = 0.5: shift in sigma, run length. h = 4: Lucas & Crosier (1982), Technometrics 24, Table 1, as quoted in R package spc, xcusum.arl; h = 5: the column of Montgomery's Table 9.3, from memory but for 465 and 10.4. */
export const cusumRunLengths: readonly { readonly h: number; readonly rows: readonly (readonly [number, number])[] }[] = [
  { h: 4, rows: [[0, 168.0], [0.5, 26.6], [1, 8.38], [2, 3.34]] },
  { h: 5, rows: [[0, 465], [0.5, 38.0], [1, 10.4], [2, 4.01]] },
];

/** Yearly flow of the Nile at Aswan, 1871 to 1970, 10^8 m3 (R data set Nile, through Rdatasets, csv/datasets/Nile.csv); "apparent changepoint near 1898" (Cobb 1978): the last year of the high level. */
export const nile: readonly number[] = [
  1120, 1160, 963, 1210, 1160, 1160, 813, 1230, 1370, 1140, 995, 935, 1110, 994, 1020, 960, 1180, 799, 958, 1140,
  1100, 1210, 1150, 1250, 1260, 1220, 1030, 1100, 774, 840, 874, 694, 940, 833, 701, 916, 692, 1020, 1050, 969,
  831, 726, 456, 824, 702, 1120, 1100, 832, 764, 821, 768, 845, 864, 862, 698, 845, 744, 796, 1040, 759,
  781, 865, 845, 944, 984, 897, 822, 1010, 771, 676, 649, 846, 812, 742, 801, 1040, 860, 874, 848, 890,
  744, 749, 838, 1050, 918, 986, 797, 923, 975, 815, 1020, 906, 901, 1170, 912, 746, 919, 718, 714, 740,
];
