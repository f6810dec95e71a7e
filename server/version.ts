/** What reports and dashboards name as the version. */
export const VERSION = '0.1.0';
