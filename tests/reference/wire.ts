/** Published resistances of copper wire. */

/**
 * Solid annealed copper at 20 degC, ohm per 1000 ft. HyperPhysics, "American Wire Gages (AWG) Sizes and Resistances", main
 * table (hyperphysics.phy-astr.gsu.edu/hbase/tables/wirega.html). The older set of figures; a recomputation of 1966 differs by up to 0.4 %.
 */
export const awgOhmsPer1000Feet: readonly (readonly [gauge: number, ohms: number, diameterInch: number])[] = [
  [8, 0.6282, 0.12849],
  [9, 0.7921, 0.11443],
  [10, 0.9989, 0.10189],
  [11, 1.26, 0.09074],
  [12, 1.588, 0.0808],
  [13, 2.003, 0.07196],
  [14, 2.525, 0.06408],
  [15, 3.184, 0.05707],
  [16, 4.016, 0.05082],
  [17, 5.064, 0.04526],
  [18, 6.385, 0.0403],
  [19, 8.051, 0.03589],
  [20, 10.15, 0.03196],
  [21, 12.8, 0.02846],
  [22, 16.14, 0.02535],
  [23, 20.36, 0.02257],
  [24, 25.67, 0.0201],
];

/** Temperature coefficient of annealed copper at 20 degC, 1/degC: Industrial Power Engineering and Applications Handbook, page 970. */
export const copperTemperatureCoefficient = 0.00393;

/** Resistivity of annealed copper at 20 degC, ohm mm2/m: International Annealed Copper Standard, IEC 60028 (1925), 1/58. */
export const copperResistivity = 0.017241;

/**
 * IEC 60228, highest resistance at 20 degC of stranded (class 2) and flexible (class 5) plain copper, ohm/km, by mm2. Read in
 * transcriptions: kabelmetal-indonesia.com (conductor specification) and mycableengineering.com (IEC 60228 DC resistance).
 */
export const iec60228: readonly (readonly [crossSection: number, class2: number, class5: number])[] = [
  [0.5, 36.0, 39.0],
  [0.75, 24.5, 26.0],
  [1, 18.1, 19.5],
  [1.5, 12.1, 13.3],
  [2.5, 7.41, 7.98],
  [4, 4.61, 4.95],
  [6, 3.08, 3.3],
  [10, 1.83, 1.91],
  [16, 1.15, 1.21],
  [25, 0.727, 0.78],
];

/**
 * ISO 6722-1:2011, highest resistance of automotive cable at 20 degC, milliohm/m, by mm2. From memory: the document could not be
 * read, so a cross-check and no limit.
 */
export const iso6722FromMemory: readonly (readonly [crossSection: number, milliohmPerMetre: number])[] = [
  [0.13, 136],
  [0.22, 84.8],
  [0.35, 54.4],
  [0.5, 37.1],
  [0.75, 24.7],
  [1, 18.5],
  [1.25, 14.9],
  [1.5, 12.7],
  [2, 9.42],
  [2.5, 7.6],
  [3, 6.15],
  [4, 4.71],
  [5, 3.94],
  [6, 3.14],
  [8, 2.38],
  [10, 1.82],
  [12, 1.52],
  [16, 1.16],
  [20, 0.955],
  [25, 0.743],
];
