/** Records in a process of its own, kills it with SIGKILL, and looks at what is left. */
import { spawn } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import Database from 'better-sqlite3';
import { join } from 'node:path';
import { SessionReader } from '../../../server/recordings/session-reader.ts';
import { flagsAt, timeAt, valueAt } from './known-sequence.ts';

export interface KillPlan {
  readonly folder: string;
  readonly meters: number;
  readonly batch: number;
  readonly everyMs: number;
  readonly takeLength: number;
  /** After the first acknowledgement. */
  readonly killAfterMs: number;
}

export interface WhatIsLeft {
  readonly sent: number;
  readonly acknowledged: number;
  /** Samples in the file. */
  readonly stored: number;
  /** Milliseconds of sending that were lost. */
  readonly lostMs: number;
  readonly integrity: string;
  /** First thing that is not as it was sent; empty when all is. */
  readonly difference: string;
  readonly takes: number;
  readonly troubles: readonly string[];
}

export async function recordAndKill(plan: KillPlan): Promise<WhatIsLeft> {
  const { folder, meters, batch, everyMs, takeLength } = plan;
  const script = fileURLToPath(new URL('./record-forever.ts', import.meta.url));
  const child = spawn(process.execPath, ['--import', import.meta.resolve('tsx'), script, ...[folder, meters, batch, everyMs, takeLength].map(String)], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  let output = '';
  let isTimed = false;
  const exited = new Promise<void>((resolve) => child.once('close', () => resolve()));
  child.stdout.setEncoding('utf8').on('data', (text: string) => {
    output += text;
    if (!isTimed && output.includes('a ')) {
      isTimed = true;
      setTimeout(() => child.kill('SIGKILL'), plan.killAfterMs);
    }
  });
  await exited;
  // A half-written last line says nothing.
  const lines = output.slice(0, output.lastIndexOf('\n')).split('\n').map((line) => line.split(' '));
  const sends = lines.filter(([kind]) => kind === 's').map(([, seq, ms]) => ({ seq: Number(seq), ms: Number(ms) }));
  const acknowledged = Math.max(0, ...lines.filter(([kind]) => kind === 'a').map(([, seq]) => Number(seq)));
  const troubles = lines.filter(([kind]) => kind === 't').map((words) => words.slice(1).join(' '));
  const path = join(folder, '2026-03-05-101112.sqlite');
  const { stored, takes, difference } = compare(path, meters, batch);
  const lastSaved = sends.findLast(({ seq }) => seq <= stored)?.ms ?? sends[0]?.ms ?? 0;
  return {
    sent: sends.at(-1)?.seq ?? 0, acknowledged, stored, takes, troubles, difference,
    lostMs: (sends.at(-1)?.ms ?? 0) - lastSaved,
    integrity: integrityOf(path),
  };
}

export function integrityOf(path: string): string {
  const db = new Database(path);
  try {
    return db.pragma('integrity_check', { simple: true }) as string;
  } finally {
    db.close();
  }
}

/** Every sample in the file against the known sequence: a prefix of what was sent, none twice, none changed. */
function compare(path: string, meters: number, batch: number): { stored: number; takes: number; difference: string } {
  const reader = new SessionReader(path);
  try {
    const seen: number[] = [];
    const takes = reader.takes();
    for (const { take } of takes) {
      for (const meter of reader.metersOf(take.id)) {
        const { length, seq, timeUs, value, flags } = reader.samples(take.id, meter, 0, Infinity);
        for (let i = 0; i < length; i++) {
          const number = seq[i]!;
          seen.push(number);
          const isRight = Object.is(value[i], valueAt(number)) && flags[i] === flagsAt(number) && timeUs[i] === Math.round(timeAt(number) * 1e6)
            && Math.floor((number - 1) / batch) % meters === meter;
          if (!isRight) return { stored: seen.length, takes: takes.length, difference: `sample ${number} of meter ${meter} is not as it was sent` };
        }
      }
    }
    seen.sort((a, b) => a - b);
    const hole = seen.findIndex((number, i) => number !== i + 1);
    return { stored: seen.length, takes: takes.length, difference: hole < 0 ? '' : `sample ${hole + 1} is missing or there twice` };
  } finally {
    reader.close();
  }
}
