/**
 * The live side: HTTP, the websocket hub and who may use them. May import recordings, session, diagnosis and the types of
 * drivers. Read protocol.ts first: it is what the service and its dashboards say to each other.
 */
export { hostText, isLoopback, LoopbackGate, ownHosts } from './access/index.ts';
export { createApp } from './http.ts';
export { Hub, RequestRefused } from './hub.ts';
export type { HubSource } from './hub.ts';
export type * from './protocol.ts';
