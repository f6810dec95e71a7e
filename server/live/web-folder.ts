/** Where the built dashboard is. */
import { fileURLToPath } from 'node:url';

export const WEB_FOLDER = fileURLToPath(new URL('../../web/dist', import.meta.url));
