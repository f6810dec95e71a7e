/**
 * Teaching: from what a meter sends and what its display showed, to the settings of a decoder. Pure: frames and lines come
 * in with the text that the user typed. Read teach-frames.ts first; teach-text.ts does the same for lines.
 */
export { findFrames, markBytes, newsOf, withFrames } from './frames.ts';
export { partsOfLine } from './line-parts.ts';
export { teachFrames } from './teach-frames.ts';
export { teachText } from './teach-text.ts';

export type { CapturedChunk, FramesFound } from './frames.ts';
export type { Taught, TeachExample } from './examples.ts';
export type { LinePart } from './line-parts.ts';
export type { TaughtText, TextExample } from './teach-text.ts';
