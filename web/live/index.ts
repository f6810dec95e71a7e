/**
 * The page's end of the websocket. `link.ts` keeps it open, `receive.ts` turns messages into state, `ask.ts` sends requests
 * and waits for their answers, `forwarding.ts` is about meters of this page's own device, `service-clock.ts` knows the session clock. Start
 * with `receive.ts`.
 */
export { ask, RequestFailed } from './ask.ts';
export { followForwarding, sendBytes } from './forwarding.ts';
export { startLive } from './receive.ts';
