/**
 * The page's end of the websocket. `link.ts` keeps it open, `receive.ts` turns messages into state, `ask.ts` sends requests
 * and waits for their answers, `service-clock.ts` knows the session clock. Start with `receive.ts`.
 */
export { ask, RequestFailed } from './ask.ts';
export { startLive } from './receive.ts';
