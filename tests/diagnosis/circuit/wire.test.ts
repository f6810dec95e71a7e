import { describe, expect, it } from 'vitest';
import { COPPER_RESISTIVITY, COPPER_TEMPERATURE_COEFFICIENT, crossSectionOfGauge, wireOhms } from '../../../server/diagnosis/circuit/index.ts';
import { awgOhmsPer1000Feet, copperResistivity, copperTemperatureCoefficient, iec60228, iso6722FromMemory } from '../../reference/wire.ts';

describe('wireOhms(length, crossSection, temperature)', () => {
  it('gives the published resistance of every American gauge from 8 to 24 within 0.05 %', () => {
    for (const [gauge, ohms] of awgOhmsPer1000Feet) {
      expect(Math.abs(wireOhms(304.8, crossSectionOfGauge(gauge)) / ohms - 1), `AWG ${gauge}`).toBeLessThan(0.0005);
    }
  });

  it('stays below the highest resistance that IEC 60228 allows for stranded and flexible copper, by 0 to 25 %', () => {
    for (const [crossSection, stranded, flexible] of iec60228) {
      const own = wireOhms(1000, crossSection);
      for (const allowed of [stranded, flexible]) {
        expect(own / allowed, `${crossSection} mm2`).toBeLessThan(1);
        expect(own / allowed, `${crossSection} mm2`).toBeGreaterThan(0.75);
      }
    }
  });

  it('stays below what ISO 6722-1 allows for vehicle cable (from memory)', () => {
    for (const [crossSection, milliohm] of iso6722FromMemory) expect(wireOhms(1, crossSection) * 1000, `${crossSection} mm2`).toBeLessThan(milliohm);
  });

  it('rises with the published coefficient from 20 degC', () => {
    expect(COPPER_TEMPERATURE_COEFFICIENT).toBe(copperTemperatureCoefficient);
    expect(COPPER_RESISTIVITY).toBeCloseTo(copperResistivity, 6);
    expect(wireOhms(1, 1, 120) / wireOhms(1, 1)).toBeCloseTo(1 + 100 * copperTemperatureCoefficient, 12);
  });

  it('refuses a length below zero and a cross-section of zero', () => {
    expect(() => wireOhms(-1, 1)).toThrow(RangeError);
    expect(() => wireOhms(1, 0)).toThrow(RangeError);
    expect(wireOhms(0, 1)).toBe(0);
  });
});

describe('crossSectionOfGauge(gauge)', () => {
  it('gives the published diameters', () => {
    for (const [gauge, , inch] of awgOhmsPer1000Feet) {
      // The table prints five decimals of an inch.
      expect(Math.sqrt((4 / Math.PI) * crossSectionOfGauge(gauge)) / 25.4, `AWG ${gauge}`).toBeCloseTo(inch, 4);
    }
  });

  it('refuses a gauge that is no whole number', () => {
    expect(() => crossSectionOfGauge(14.5)).toThrow(RangeError);
  });
});
