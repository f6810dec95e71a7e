/** Builds the service into plain JavaScript: run like that it takes 100 MB less than from its sources, and starts in a fraction of the time. */
import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vite';

const here = (path: string) => fileURLToPath(new URL(path, import.meta.url));
const worker = (name: string) => here(`recordings/${name}-worker.ts`);

export default defineConfig({
  root: here('.'),
  build: {
    ssr: true, outDir: 'dist', emptyOutDir: true, target: 'node20', minify: false,
    rolldownOptions: {
      input: { 'main': here('main.ts'), 'writer-worker': worker('writer'), 'reader-worker': worker('reader'), 'job-worker': worker('job'), 'teach-worker': here('service/teach-worker.ts'), 'locate-worker': here('service/locate-worker.ts') },
      // All in one folder: workers are found beside whatever starts them, and the dashboard two folders up, as from the sources.
      output: { entryFileNames: '[name].js', chunkFileNames: '[name]-[hash].js' },
    },
  },
});
