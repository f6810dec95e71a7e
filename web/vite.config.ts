import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vite';

const here = (path: string) => fileURLToPath(new URL(path, import.meta.url));

export default defineConfig({
  root: here('.'),
  base: './',
  // The JSX of Preact needs no plugin: the bundler compiles it.
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
  build: {
    outDir: 'dist', emptyOutDir: true, target: 'es2022', modulePreload: { polyfill: false },
    // The pairing page is all that a device gets before it is paired.
    rolldownOptions: {
      input: [here('index.html'), here('pairing.html')],
      // Libraries apart from our own code, both loaded at once: no screen is fetched later, because it must also open while the service is away.
      output: { codeSplitting: { groups: [{ name: 'libraries', test: /node_modules[\\/](chart\.js|@kurkle|zod)[\\/]/ }] } },
    },
  },
});
