/**
 * Identifying an unknown meter: listen first, score every decoder on what was heard, offer the best with its doubts. score.ts is
 * pure; identify-port.ts listens on anything that can change its rate, ask-port.ts asks when the user agrees; listening-port.ts is the real
 * port, or the link of a meter; identify-address.ts finds either. Read score.ts first.
 */
export { identify, LIKELY_BAUDS } from './identify-port.ts';
export { identifyAddress } from './identify-address.ts';
export { identifyMeter, identifyPort } from './listening-port.ts';
export { guessDecoders } from './score.ts';

export type { Identification, IdentifyOptions, IdentifyProgress, ListeningPort, RatedGuess } from './identify-port.ts';
export type { IdentifyPortOptions } from './listening-port.ts';
export type { Guess } from './score.ts';
