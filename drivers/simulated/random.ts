/** Random numbers that can be repeated: the same seed gives the same run on every machine. */

/**
 * @param seed  any number; its lower 32 bits count
 * @returns a source of numbers evenly spread over 0 <= x < 1 (32 bits). The generator is "mulberry32" by Tommy Ettinger,
 *   public domain; good enough for noise, not for secrets.
 */
export function randomFrom(seed: number): () => number {
  let state = seed | 0;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296;
  };
}

/** Standard normal numbers by the Box-Muller transform (G. E. P. Box, M. E. Muller, 1958). */
export function gaussianFrom(random: () => number): () => number {
  let spare: number | null = null;
  return () => {
    if (spare !== null) {
      const value = spare;
      spare = null;
      return value;
    }
    const radius = Math.sqrt(-2 * Math.log(1 - random()));
    const angle = 2 * Math.PI * random();
    spare = radius * Math.sin(angle);
    return radius * Math.cos(angle);
  };
}
