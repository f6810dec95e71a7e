/** A progress bar on a terminal; nothing where the output is not one. */
import type { Writable } from 'node:stream';

const WIDTH = 30;

export function progressBar(output: Pick<Writable, 'write'>, what: string): { show(share: number): void; end(): void } {
  const isTerminal = 'isTTY' in output && output.isTTY === true;
  let shown = -1;
  return {
    show: (share) => {
      const percent = Math.floor(share * 100);
      if (!isTerminal || percent === shown) return;
      shown = percent;
      const full = Math.round(share * WIDTH);
      output.write(`\r${what} [${'#'.repeat(full)}${' '.repeat(WIDTH - full)}] ${percent} %`);
    },
    end: () => {
      if (isTerminal && shown >= 0) output.write('\r\u001b[K');
    },
  };
}
