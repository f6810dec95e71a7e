/** The file of the session at hand: begun with its first take, so that a session without takes leaves none; or that of a session that is gone on with. */
import type { Recorder } from '../recordings/index.ts';
import type { MeterRecord, SessionInfo } from '../session/session.ts';

export class SessionFile {
  readonly #recorder: Recorder;
  #name: string | null = null;

  constructor(recorder: Recorder) {
    this.#recorder = recorder;
  }

  /** Null until the first take. */
  get name(): string | null {
    return this.#name;
  }

  /** @param documents  what has been said of the session so far, by name; asked for once */
  begin(info: SessionInfo, meters: readonly MeterRecord[], documents: () => ReadonlyMap<string, unknown>): void {
    if (this.#name !== null) return;
    this.#name = this.#recorder.startSession(info, meters);
    for (const [name, content] of documents()) this.#recorder.putDocument(name, content);
  }

  /** @param meters  all that the session has or had */
  resume(name: string, info: SessionInfo, meters: readonly MeterRecord[]): void {
    this.#name = name;
    this.#recorder.resumeSession(name, info, meters);
  }

  keep(document: string, content: unknown): void {
    if (this.#name !== null) this.#recorder.putDocument(document, content);
  }

  /** The file was lost: the session goes on in another, in which everything that was kept is again. @returns whether it is this session */
  continueAs(from: string, to: string): boolean {
    if (this.#name !== from) return false;
    this.#name = to;
    return true;
  }

  updateInfo(info: SessionInfo): void {
    if (this.#name !== null) this.#recorder.updateInfo(info);
  }

  updateMeters(meters: readonly MeterRecord[]): void {
    if (this.#name !== null) this.#recorder.updateMeters(meters);
  }

  end(): void {
    if (this.#name !== null) this.#recorder.endSession();
    this.#name = null;
  }
}
