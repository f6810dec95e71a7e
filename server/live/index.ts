/**
 * The live side: HTTP, the websocket hub and who may use them. May import recordings, session, diagnosis and the types of
 * drivers. Read protocol.ts first: it is what the service and its dashboards say to each other.
 */
export { hostText, isLoopback, LoopbackGate, openSharing, ownHosts, SharingError } from './access/index.ts';
export type { ForwardedFrame } from './forwarded-frame.ts';
export { createApp } from './http.ts';
export { libraryRoutes } from './library-routes.ts';
export { repairRoutes } from './repair-routes.ts';
export { Hub, RequestRefused } from './hub.ts';
export { knownRoutes, openRoutes } from './sharing-routes.ts';
export type { Sharing } from './access/index.ts';
export type { LibraryRoutes } from './library-routes.ts';
export type { HubPage, HubSource } from './hub.ts';
export type * from './protocol.ts';
export type * from './sharing-protocol.ts';
