/**
 * The wiring: meters -> session clock -> tags -> detectors -> recording and dashboards. Everything that waits, fails or
 * knows the time meets here; what it means is decided in the pure folders.
 */
import { randomUUID } from 'node:crypto';
import { createServer, type Server } from 'node:http';
import { statfs } from 'node:fs/promises';
import { AddressError, createMeter, isSimulatedMeter } from '../drivers/index.ts';
import type { Meter, MeterTraits, ReadingBatch } from '../drivers/meter.ts';
import { createDemo, type Demo } from './demo/index.ts';
import { TakeJudge } from './diagnosis/index.ts';
import type { Judgement } from './diagnosis/judgement.ts';
import { createApp, Hub, ownHosts, RequestRefused } from './live/index.ts';
import type { ClientRequest, LiveState, RecordingState } from './live/protocol.ts';
import { Library, Recorder } from './recordings/index.ts';
import { SampleClock } from './session/clock.ts';
import { checksByHand } from './session/hand-checks.ts';
import { judgeSetup, LiveSession } from './session/live-session.ts';
import type { Check, MeterRecord, SampleBatch, SessionInfo, TakeRecord } from './session/session.ts';

export const VERSION = '0.1.0';

/** A start that the user can mend; the message says how. */
export class ServiceError extends Error {
  readonly code: string;
  constructor(code: string, message: string, options?: ErrorOptions) {
    super(message, options);
    this.code = code;
  }
}

export interface ServiceOptions {
  /** Meter addresses; the first one is judged. */
  readonly meters: readonly string[];
  readonly host: string;
  /** 0 for any free port. */
  readonly port: number;
  /** Folder of the sessions; made when missing. */
  readonly recordings: string;
}

export interface RunningService {
  /** Where the dashboard is, e.g. http://127.0.0.1:8470 */
  readonly address: string;
  /** Ends the running take, saves and closes everything. */
  stop(): Promise<void>;
}

/** The verdict is worked out at most this often while samples come, and this often while none come, s. */
const JUDGE_EVERY = 0.05;
const JUDGE_IDLE_EVERY_MS = 250;
const FREE_SPACE_EVERY_MS = 5_000;
/** Counts of readings and bad lines change all the time; dashboards get them this often. */
const STATE_EVERY_MS = 1_000;

/** The only circuit that can be simulated. */
const SCENARIO = 'alder7';

interface WiredMeter {
  readonly meter: Meter;
  record: MeterRecord;
  clock: SampleClock;
  lastSampleAt: number | null;
}

export async function startService(options: ServiceOptions): Promise<RunningService> {
  const service = new Service(options);
  try {
    await service.start();
  } catch (error) {
    await service.stop();
    throw error;
  }
  return service;
}

class Service implements RunningService {
  readonly #options: ServiceOptions;
  /** The circuit that the simulated meter measures; null when every meter is real. */
  readonly #demo: Demo | null;
  readonly #checks: readonly Check[];
  readonly #meters: WiredMeter[];
  readonly #server: Server = createServer();
  readonly #timers: NodeJS.Timeout[] = [];
  #session: LiveSession;
  #startedAt: number;
  #judge: TakeJudge | null = null;
  #judged: { take: number; judgement: Judgement } | null = null;
  #judgedAt = -Infinity;
  #recorder!: Recorder;
  #library!: Library;
  #hub!: Hub;
  /** Name of the session's file; null until its first take: a session without takes leaves no file. */
  #file: string | null = null;
  #recording: RecordingState = { state: 'idle', message: '', file: null, freeBytes: null };
  address = '';

  constructor(options: ServiceOptions) {
    this.#options = options;
    this.#startedAt = performance.now() / 1000;
    this.#meters = options.meters.map((address, index) => {
      const meter = makeMeter(address);
      return { meter, record: meterRecord(index, meter.traits), clock: new SampleClock(meter.traits), lastSampleAt: null };
    });
    const simulated = this.#meters.map(({ meter }) => meter).filter(isSimulatedMeter);
    this.#demo = simulated[0] === undefined ? null : createDemo(simulated[0].seed);
    if (this.#demo !== null) for (const meter of simulated) meter.setSignal(this.#demo.signal);
    this.#checks = this.#demo?.checks ?? checksByHand(12);
    this.#session = this.#newSession(this.#demo?.defaultCheck ?? this.#checks[0]!, 'spot');
  }

  async start(): Promise<void> {
    const { host, port, recordings } = this.#options;
    this.#recorder = Recorder.open({
      folder: recordings,
      onAcknowledged: () => undefined,
      onTrouble: (trouble) => this.#setRecording({ state: 'not-saving', message: trouble.message }),
      onRecovered: () => this.#setRecording({ state: this.#session.take === null ? 'idle' : 'saving', message: '' }),
    });
    this.#library = Library.open({ folder: recordings });
    let hosts: ReadonlySet<string> = new Set();
    this.#server.on('request', createApp(this.#library, () => hosts));
    this.#hub = new Hub(this.#server, () => hosts, {
      state: () => this.#state(),
      judgement: () => this.#judged,
      request: (request) => this.#carryOut(request),
      clock: () => this.#now(),
    });
    await this.#listen(host, port);
    const bound = this.#server.address();
    const boundPort = typeof bound === 'object' && bound !== null ? bound.port : port;
    hosts = ownHosts(host, boundPort);
    this.address = `http://${host.includes(':') ? `[${host}]` : host}:${boundPort}`;

    for (const wired of this.#meters) {
      wired.meter.open({
        onReadings: (batch) => this.#onReadings(wired, batch),
        onStatus: () => this.#hub.stateChanged(),
      });
    }
    this.#timers.push(
      setInterval(() => this.#judgeNow(), JUDGE_IDLE_EVERY_MS),
      setInterval(() => void this.#measureFreeSpace(), FREE_SPACE_EVERY_MS),
      setInterval(() => this.#hub.stateChanged(), STATE_EVERY_MS),
    );
    await this.#measureFreeSpace();
  }

  async stop(): Promise<void> {
    for (const timer of this.#timers) clearInterval(timer);
    if (this.#session.take !== null) this.#endTake('service-stopped');
    await Promise.all(this.#meters.map(({ meter }) => meter.close()));
    await this.#recorder.close();
    await this.#library.close();
    this.#hub.close();
    const closed = new Promise<void>((resolve) => this.#server.close(() => resolve()));
    this.#server.closeAllConnections();
    await closed;
  }

  // --- samples

  #onReadings(wired: WiredMeter, { arrival, readings }: ReadingBatch): void {
    const at = arrival - this.#startedAt;
    const times = new Float64Array(readings.length);
    wired.clock.date(at, readings.length, times);
    const batch = this.#session.tag(wired.record.index, readings, times, at);
    const wasSilent = wired.lastSampleAt === null || at - wired.lastSampleAt > 2;
    wired.lastSampleAt = times[times.length - 1] ?? wired.lastSampleAt;
    if (batch.take !== 0) {
      this.#recorder.appendSamples(batch);
      if (wired.record.index === this.#session.take?.meter) this.#judgeSamples(batch);
    }
    this.#hub.samples(batch);
    if (wasSilent) this.#hub.stateChanged();
  }

  #judgeSamples(batch: SampleBatch): void {
    this.#judge?.push(batch);
    if (this.#now() - this.#judgedAt >= JUDGE_EVERY) this.#judgeNow();
  }

  #judgeNow(): void {
    const take = this.#session.take;
    if (take === null || this.#judge === null) return;
    this.#judgedAt = this.#now();
    const judgement = this.#judge.judgement(this.#judgedAt, this.#session.exposure);
    this.#judged = { take: take.id, judgement };
    this.#hub.judged(take.id, judgement);
  }

  // --- what a dashboard asks for

  #carryOut(request: ClientRequest): void {
    switch (request.type) {
      case 'start-take':
      case 'choose': {
        const isRunning = this.#session.take !== null;
        // Within one turn of the event loop: no sample comes between the end of one take and the start of the next.
        if (isRunning) this.#endTake('next-check');
        this.#session.check = request.check;
        this.#session.watching = request.watching;
        this.#demo?.choose(request.check);
        if (isRunning || request.type === 'start-take') this.#startTake();
        break;
      }
      case 'stop-take':
        if (this.#session.take === null) throw new RequestRefused('NO_TAKE', 'No take is running.');
        this.#endTake('stopped');
        break;
      case 'mark':
        if (this.#session.take === null) throw new RequestRefused('NO_TAKE', 'Start a take first: a mark belongs to a take.');
        this.#recorder.addMark(this.#session.mark(request.text, this.#now()));
        break;
      case 'flex':
        if (this.#session.take === null) throw new RequestRefused('NO_TAKE', 'Start a wiggle take first: flexes are counted in a take.');
        this.#session.addFlexes(request.count);
        break;
      case 'describe-meter':
        this.#describeMeter(request);
        break;
      case 'describe': {
        const { title, vehicle, complaint } = { ...this.#session.info, ...request };
        this.#session.info = { ...this.#session.info, title, vehicle, complaint };
        if (this.#file !== null) this.#recorder.updateInfo(this.#session.info);
        break;
      }
      case 'new-session':
        if (this.#session.take !== null) this.#endTake('stopped');
        this.#closeFile();
        this.#startedAt = performance.now() / 1000;
        for (const wired of this.#meters) {
          wired.clock = new SampleClock(wired.meter.traits);
          wired.lastSampleAt = null;
        }
        this.#judged = null;
        this.#hub.startOver();
        this.#session = this.#newSession(this.#session.check, this.#session.watching);
        break;
      case 'simulate':
        if (this.#demo === null) throw new RequestRefused('NOT_SIMULATED', 'Only a simulated meter can be given a fault.');
        if (!this.#demo.faults.some((fault) => fault.id === request.fault)) {
          throw new RequestRefused('NO_SUCH_FAULT', `The simulation knows no fault "${request.fault}".`);
        }
        this.#demo.setFault(request.fault);
        break;
    }
    this.#hub.stateChanged();
    this.#judgeNow();
  }

  #startTake(): void {
    const wired = this.#meters[0]!;
    this.#file ??= this.#recorder.startSession(this.#session.info, this.#meters.map(({ record }) => record));
    const take = this.#session.startTake(wired.record.index, this.#now());
    this.#judge = new TakeJudge(judgeSetup(take.check, take.watching, wired.record));
    this.#recorder.startTake(take);
    if (this.#recording.state === 'idle') this.#setRecording({ state: 'saving', message: '', file: this.#file });
  }

  #endTake(ending: TakeRecord['ending']): void {
    const judge = this.#judge!;
    const now = this.#now();
    const judgement = judge.judgement(now, this.#session.exposure);
    const take = this.#session.endTake(ending, now, judgement);
    this.#judge = null;
    this.#judged = { take: take.id, judgement };
    this.#recorder.endTake(take, judgement);
    this.#hub.judged(take.id, judgement);
    if (this.#recording.state === 'saving') this.#setRecording({ state: 'idle' });
  }

  #describeMeter({ meter: index, ...known }: Extract<ClientRequest, { type: 'describe-meter' }>): void {
    const wired = this.#meters[index];
    if (wired === undefined) throw new RequestRefused('NO_SUCH_METER', `There is no meter ${index}.`);
    const { accuracy, interval, aperture, leadOhms } = { ...wired.record, ...known };
    if (aperture !== null && interval !== null && aperture > interval) {
      throw new RequestRefused('APERTURE_TOO_LONG', 'A meter cannot average for longer than its sample interval: give an aperture up to the interval.');
    }
    wired.record = { ...wired.record, accuracy, interval, aperture, leadOhms };
    if (this.#file !== null) this.#recorder.updateMeters(this.#meters.map(({ record }) => record));
    // The running take is judged by the old description until the next one starts: its samples are not judged twice.
  }

  #closeFile(): void {
    if (this.#file !== null) this.#recorder.endSession();
    this.#file = null;
    if (this.#recording.state !== 'not-saving') this.#setRecording({ state: 'idle', file: null });
  }

  // --- state

  #now(): number {
    return performance.now() / 1000 - this.#startedAt;
  }

  #newSession(check: Check, watching: LiveSession['watching']): LiveSession {
    const startedAtUs = Date.now() * 1000;
    const info: SessionInfo = { id: randomUUID(), startedAtUs, title: '', vehicle: '', complaint: '' };
    this.#demo?.choose(check);
    return new LiveSession(info, check, watching);
  }

  #state(): LiveState {
    const session = this.#session;
    const demo = this.#demo;
    return {
      version: VERSION,
      clock: this.#now(),
      session: session.info,
      meters: this.#meters.map(({ meter, record, lastSampleAt }) => ({
        ...record, link: meter.status(), counts: meter.counts(), lastSampleAt,
      })),
      checks: this.#checks,
      points: demo?.points ?? [],
      check: session.check,
      watching: session.watching,
      take: session.take,
      exposure: session.exposure,
      marks: session.marks,
      ended: session.ended.map(({ take, judgement }) => ({ take, verdict: judgement.verdict, dropouts: judgement.dropouts.length })),
      recording: this.#recording,
      simulation: demo === null ? null : { scenario: demo.title, faults: demo.faults, fault: demo.fault },
    };
  }

  #setRecording(change: Partial<RecordingState>): void {
    this.#recording = { ...this.#recording, ...change };
    this.#hub?.stateChanged();
  }

  async #measureFreeSpace(): Promise<void> {
    const freeBytes = await statfs(this.#options.recordings).then((stats) => stats.bavail * stats.bsize, () => null);
    if (freeBytes !== this.#recording.freeBytes) this.#setRecording({ freeBytes });
  }

  #listen(host: string, port: number): Promise<void> {
    return new Promise((resolve, reject) => {
      this.#server.once('error', (error: NodeJS.ErrnoException) => {
        const message = error.code === 'EADDRINUSE'
          ? `Something already listens on ${host}:${port}, perhaps Loomtrace itself. Stop it, or choose another port: --listen ${host}:${port + 1}`
          : `Can't listen on ${host}:${port}: ${error.message}`;
        reject(new ServiceError(error.code ?? 'LISTEN', message, { cause: error }));
      });
      this.#server.listen(port, host, resolve);
    });
  }
}

function makeMeter(address: string): Meter {
  try {
    const meter = createMeter(address);
    if (isSimulatedMeter(meter) && meter.scenario !== SCENARIO) {
      throw new AddressError(`There is no simulation "${meter.scenario}"; write simulated:${SCENARIO}`);
    }
    return meter;
  } catch (error) {
    if (!(error instanceof AddressError)) throw error;
    throw new ServiceError('BAD_ADDRESS', `--meter ${address}: ${error.message}`, { cause: error });
  }
}

function meterRecord(index: number, traits: MeterTraits): MeterRecord {
  const { address, label, simulated, interval, aperture, accuracy, leadOhms } = traits;
  return { index, address, label, simulated, interval, aperture, accuracy, leadOhms };
}
