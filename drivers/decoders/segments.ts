/**
 * Seven-segment shapes. Segments: a top, b upper right, c lower right, d bottom, e lower left, f upper left, g middle; bit 0 is a,
 * bit 6 is g. Digit shapes and masks are published (see tests/reference/seven-segment.ts); variants and letters are from memory.
 */

export const SEGMENTS = ['a', 'b', 'c', 'd', 'e', 'f', 'g'] as const;
export type Segment = (typeof SEGMENTS)[number];

const SHAPES: readonly (readonly [string, number])[] = [
  ['0', 0x3f], ['1', 0x06], ['2', 0x5b], ['3', 0x4f], ['4', 0x66], ['5', 0x6d], ['6', 0x7d], ['7', 0x07], ['8', 0x7f], ['9', 0x6f],
  ['6', 0x7c], ['7', 0x27], ['9', 0x67],
  ['-', 0x40], [' ', 0x00], ['L', 0x38],
];

const CHARACTERS = new Map(SHAPES.map(([character, shape]) => [shape, character]));

/** @returns `0` to `9`, `-`, blank or `L` (as in "OL"); undefined for a shape that no display shows beside a number */
export function characterOfSegments(shape: number): string | undefined {
  return CHARACTERS.get(shape);
}

/** @returns the published shape of a digit, minus, blank or L. @throws {RangeError} for any other character */
export function segmentsOfCharacter(character: string): number {
  const shape = SHAPES.find(([each]) => each === character)?.[1];
  if (shape === undefined) throw new RangeError(`"${character}" has no seven-segment shape here`);
  return shape;
}
