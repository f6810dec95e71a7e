/**
 * Identifying an unknown meter: listen first, score every decoder on what was heard, offer the best with its doubts. score.ts is
 * pure; identify-port.ts listens on anything that can change its rate; listening-port.ts is the real port. Read score.ts first.
 */
export { identify, LIKELY_BAUDS } from './identify-port.ts';
export { identifyPort } from './listening-port.ts';
export { guessDecoders } from './score.ts';

export type { Identification, IdentifyOptions, ListeningPort, RatedGuess } from './identify-port.ts';
export type { IdentifyPortOptions } from './listening-port.ts';
export type { Guess } from './score.ts';
