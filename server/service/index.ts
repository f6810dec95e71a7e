/**
 * The wiring: meters -> session clock -> tags -> detectors -> recording and dashboards. Everything that waits, fails or
 * knows the time meets here; what it means is decided in the pure folders. Read service.ts first.
 */
export { startService } from './service.ts';
export { ServiceError } from './service-error.ts';
export type { RunningService, ServiceOptions, ShareOptions } from './service.ts';
