/** What the recorder and its writer worker say to each other. */
import type { MeterRecord, SessionInfo } from '../session/session.ts';
import type { RecordingTrouble } from './errors.ts';
import type { SessionChange } from './session-writer.ts';
import type { RecordingSpace } from './space.ts';

export type ToWriter =
  | { readonly type: 'start-session'; readonly name: string; readonly info: SessionInfo; readonly meters: readonly MeterRecord[] }
  | { readonly type: 'resume-session'; readonly name: string; readonly info: SessionInfo; readonly meters: readonly MeterRecord[] }
  /** Sequence number of the last sample in it, 0 when it holds none. */
  | { readonly type: 'change'; readonly change: SessionChange; readonly lastSeq: number }
  | { readonly type: 'end-session' }
  | { readonly type: 'close' };

export type FromWriter =
  | { readonly type: 'acknowledged'; readonly seq: number }
  | { readonly type: 'trouble'; readonly trouble: RecordingTrouble }
  | { readonly type: 'recovered' }
  | { readonly type: 'continued'; readonly from: string; readonly to: string }
  | { readonly type: 'space'; readonly space: RecordingSpace }
  | { readonly type: 'closed' };

export interface WriterOptions {
  readonly folder: string;
  /** Bytes of samples kept in memory while the disk refuses them. */
  readonly memoryLimit: number;
}
