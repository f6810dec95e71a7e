/** Completes a session whose service died: seals what waits, ends open takes as interrupted, judged from their samples. */
import type { TakeRecord } from '../session/session.ts';
import { RecordingError } from './errors.ts';
import { judgeStored } from './judge-stored.ts';
import { readSession } from './session-reader.ts';
import { type SessionChange, SessionWriter } from './session-writer.ts';

/**
 * @param now wall time, ms
 * @returns takes that were open
 * @throws {RecordingError} SESSION_BUSY while a service writes to it
 */
export function finishSession(path: string, now: number): number {
  refuseBusy(path, now);
  return completeSession(path, 'interrupted');
}

/** @param ending  of takes that are open @returns how many were */
export function completeSession(path: string, ending: 'interrupted' | 'copied'): number {
  const ends = openEnds(path, ending);
  const writer = new SessionWriter(path);
  try {
    writer.commit(ends);
    writer.finish();
  } catch (error) {
    writer.abandon();
    throw error;
  }
  return ends.length;
}

function refuseBusy(path: string, now: number): void {
  if (readSession(path, (reader) => reader.isBeingWritten(now))) throw new RecordingError('SESSION_BUSY', 'This session is being recorded: end it first.');
}

function openEnds(path: string, ending: TakeRecord['ending']): SessionChange[] {
  return readSession(path, (reader) => reader.takes().filter(({ judgement }) => judgement === null).map((stored) => {
    const { take } = stored;
    const lastUs = reader.extent(take.id, take.meter)?.lastUs ?? Math.round(take.start * 1e6);
    return { type: 'end-take', take: { ...take, end: lastUs / 1e6, ending }, judgement: judgeStored(reader, stored) };
  }));
}
