/** Runs ngspice on many independent resistive circuits at once and reads the voltages asked for. */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

export class SpiceDeck {
  readonly #lines: string[] = [];
  readonly #asked: [plus: string, minus: string][] = [];
  readonly #nodes = new Map<string, string>();
  #elements = 0;

  /** Name of a node of one circuit; "0" is ground for all. */
  node(circuit: number, name: string, ground: string): string {
    if (name === ground) return '0';
    const key = `${circuit} ${name}`;
    let node = this.#nodes.get(key);
    if (node === undefined) this.#nodes.set(key, node = `n${this.#nodes.size + 1}`);
    return node;
  }

  resistor(a: string, b: string, ohms: number): void { this.#lines.push(`R${this.#elements++} ${a} ${b} ${ohms}`); }
  source(plus: string, minus: string, volts: number, alternating = 0): void {
    this.#lines.push(`V${this.#elements++} ${plus} ${minus} DC ${volts}${alternating === 0 ? '' : ` AC ${alternating}`}`);
  }
  /** Drives a current out of `plus` into the circuit and back at `minus`. */
  current(plus: string, minus: string, amps: number): void { this.#lines.push(`I${this.#elements++} ${minus} ${plus} DC ${amps}`); }
  capacitor(a: string, b: string, farads: number): void { this.#lines.push(`C${this.#elements++} ${a} ${b} ${farads}`); }

  /** @returns number of the answer */
  ask(plus: string, minus: string): number { return this.#asked.push([plus, minus]) - 1; }

  /** Voltages asked for, V, in the order of asking; magnitudes when a frequency is given. */
  solve(hertz?: number): number[] {
    const folder = mkdtempSync(join(tmpdir(), 'deck-'));
    try {
      const output = join(folder, 'out.raw');
      const analysis = hertz === undefined ? 'op' : `ac lin 1 ${hertz} ${hertz}`;
      writeFileSync(join(folder, 'deck.cir'), ['harness', ...this.#lines, '.control', 'set filetype=ascii', 'set numdgt=15', analysis, `write ${output}`, 'quit', '.endc', '.end', ''].join('\n'));
      execFileSync('/usr/bin/ngspice', ['-b', join(folder, 'deck.cir')], { cwd: folder, stdio: 'pipe', maxBuffer: 1 << 28 });
      const voltages = readRaw(readFileSync(output, 'utf8'));
      const of = (node: string): readonly [number, number] => {
        if (node === '0') return [0, 0];
        const voltage = voltages.get(node);
        if (voltage === undefined) throw new Error(`ngspice gave no voltage for ${node}`);
        return voltage;
      };
      return this.#asked.map(([plus, minus]) => {
        const [[a, b], [c, d]] = [of(plus), of(minus)];
        return hertz === undefined ? a - c : Math.hypot(a - c, b - d);
      });
    } finally {
      rmSync(folder, { recursive: true, force: true });
    }
  }
}

/** Node voltages, real and imaginary, of a raw file in text form with one point. */
function readRaw(text: string): Map<string, readonly [number, number]> {
  const [head = '', values = ''] = text.split(/^Values:\s*$/m);
  const names = [...head.matchAll(/^\t\d+\t(\S+)\t/gm)].map((match) => match[1] ?? '');
  const numbers = values.trim().split(/\s+/).slice(1).map((field) => field.split(',').map(Number));
  return new Map(names.map((name, order) => [/^v\((.*)\)$/.exec(name)?.[1] ?? name, [numbers[order]?.[0] ?? NaN, numbers[order]?.[1] ?? 0]]));
}
