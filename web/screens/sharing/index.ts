/** Sharing with other devices: `access.ts` knows what this page may do, `sharing-panel.tsx` lets devices in on the main screen. */
export { access, mayControl, startAccess } from './access.ts';
export { SharingPanel } from './sharing-panel.tsx';
export { TrustSteps } from './trust-steps.tsx';
