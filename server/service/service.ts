/** The service: meters, session, recordings and dashboards put together, started and stopped. */
import { createServer, type Server } from 'node:http';
import { join } from 'node:path';
import { addressOfPort, type MeterOptions, watchPorts } from '../../drivers/index.ts';
import {
  createApp, hostText, Hub, knownRoutes, libraryRoutes, LoopbackGate, openRoutes, openSharing, ownHosts, repairRoutes, RequestRefused, SharingError, type HubPage, type LibraryRoutes, type Sharing,
} from '../live/index.ts';
import type { ClientRequest, LivePorts, LiveState, RecordingState } from '../live/protocol.ts';
import { InterruptedSessions, Library, Recorder, type ResumedSession } from '../recordings/index.ts';
import type { SessionInfo } from '../session/session.ts';
import { VERSION } from '../version.ts';
import { CarryDesk } from './carry-desk.ts';
import { DemoRig } from './demo-rig.ts';
import { FindingDesk } from './finding-desk.ts';
import { LayoutShelf } from './layout-shelf.ts';
import { Conduct } from './conduct.ts';
import { GoingOn } from './going-on.ts';
import { LastSession } from './last-session.ts';
import { LocateThread } from './locate-thread.ts';
import { isMeterAddress, MeterBench } from './meter-bench.ts';
import { MeterDesk } from './meter-desk.ts';
import { TeachDesk } from './teach-desk.ts';
import { MeterMemory } from './meter-memory.ts';
import { playedRecording } from './played-recording.ts';
import { ServiceError } from './service-error.ts';

export interface ServiceOptions {
  /** Meter addresses; the first one is judged. Empty for those of last time, or else a simulated one. */
  readonly meters: readonly string[];
  readonly host: string;
  /** 0 for any free port. */
  readonly port: number;
  /** Folder of the sessions; made when missing. */
  readonly recordings: string;
  /** Lets other devices in; null for this machine only. */
  readonly share: ShareOptions | null;
}

export interface ShareOptions {
  /** The one address to serve; null for every private one of this machine. */
  readonly address: string | null;
  /** 0 for any free port. */
  readonly port: number;
}

export interface RunningService {
  /** Where the dashboard is, e.g. http://127.0.0.1:8470 */
  readonly address: string;
  /** Where other devices find it, e.g. https://192.168.1.5:8471; empty when it is not shared or in no network. */
  readonly sharedAddresses: readonly string[];
  /** Ends the running take, saves and closes everything. */
  stop(): Promise<void>;
}

/** Certificates and paired devices, inside the recordings folder. */
const SETTINGS = '.loomtrace';
const JUDGE_IDLE_EVERY_MS = 250;
/** Counts of readings and bad lines change all the time; dashboards get them this often. */
const STATE_EVERY_MS = 1_000;

/** @throws {ServiceError} when the user must mend something first */
export async function startService(options: ServiceOptions): Promise<RunningService> {
  const layouts = await LayoutShelf.open(join(options.recordings, SETTINGS, 'layouts'));
  const service = new Service(options, layouts);
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
  readonly #bench: MeterBench;
  readonly #meters: MeterDesk;
  readonly #demo: DemoRig;
  readonly #server: Server = createServer();
  readonly #recorder: Recorder;
  readonly #library: Library;
  readonly #recordings: LibraryRoutes;
  readonly #conduct: Conduct;
  readonly #pictures = repairRoutes({
    addPhoto: (jpeg) => {
      const photo = this.#conduct.repair.addPhoto(jpeg);
      this.#hub.stateChanged();
      return photo;
    },
    photo: (id) => this.#conduct.repair.photo(id),
  });
  readonly #hub: Hub;
  readonly #carry: CarryDesk;
  readonly #finding: FindingDesk;
  readonly #teaching: TeachDesk;
  readonly #layouts: LayoutShelf;
  readonly #locateThread = new LocateThread();
  readonly #timers: NodeJS.Timeout[] = [];
  #startedAt = performance.now() / 1000;
  #ports: LivePorts = { ports: [], message: '' };
  #portWatch: { stop(): void } | null = null;
  readonly #lastSession: LastSession;
  #interrupted: InterruptedSessions | null = null;
  readonly #goingOn: GoingOn;
  #sharing: Sharing | null = null;
  #hosts: ReadonlySet<string> = new Set();
  #recording: RecordingState = { state: 'idle', message: '', file: null, freeBytes: null, secondsLeft: null, spaceWarning: '' };
  address = '';

  constructor(options: ServiceOptions, layouts: LayoutShelf) {
    this.#options = options;
    this.#layouts = layouts;
    this.#lastSession = new LastSession(join(options.recordings, SETTINGS, 'session.json'));
    this.#bench = new MeterBench(this.#startedAt, () => this.#meterOptions());
    this.#demo = new DemoRig(this.#bench);
    this.#meters = new MeterDesk({
      bench: this.#bench,
      memory: new MeterMemory(join(options.recordings, SETTINGS, 'meters.json')),
      library: () => this.#library,
      carry: () => this.#carry,
      options: () => this.#meterOptions(),
      isTakeRunning: () => this.#conduct.isTakeRunning,
      onChanged: () => {
        this.#demo.connect(this.#conduct.reference);
        this.#conduct.offerChart(this.#demo.chart);
      },
      onDescribed: () => this.#conduct.onMetersDescribed(),
      // A meter can't be beside itself.
      onJudgedBy: (meter) => {
        if (this.#conduct.reference === meter) this.#referTo({ type: 'refer-to', meter: null });
      },
    });
    this.#meters.begin(options.meters);
    this.#demo.connect(null);

    this.#recorder = Recorder.open({
      folder: options.recordings,
      onAcknowledged: () => undefined,
      onTrouble: (trouble) => this.#setRecording({ state: 'not-saving', message: trouble.message }),
      onSpace: ({ freeBytes, secondsLeft, message }) => {
        this.#recording = { ...this.#recording, freeBytes, secondsLeft, spaceWarning: message };
      },
      onContinued: (from, to) => this.#conduct.continueFile(from, to),
      onRecovered: () => this.#setRecording({ state: this.#conduct.isTakeRunning ? 'saving' : 'idle', message: '' }),
    });
    this.#library = Library.open({ folder: options.recordings });
    this.#goingOn = new GoingOn({
      folder: options.recordings,
      library: this.#library,
      interrupted: () => this.#interrupted,
      isTakeRunning: () => this.#conduct.isTakeRunning,
      fileAtHand: () => this.#recording.file,
      turnTo: (session, stored, info, at) => this.#turnTo(session, stored, info, at),
    });
    this.#recordings = libraryRoutes(this.#library, options.recordings, VERSION);
    const gate = new LoopbackGate(() => this.#hosts);
    this.#server.on('request', createApp(this.#recordings.router, gate, { known: knownRoutes(() => this.#sharing), api: this.#pictures }));
    this.#hub = new Hub({
      state: () => this.#state(),
      judgement: () => this.#conduct.judged,
      location: () => this.#conduct.location(),
      request: (request, page) => this.#carryOut(request, page),
      forwarded: (frame, page) => this.#carry.onForwarded(frame, page),
      closed: (page) => this.#carry.onPageClosed(page),
      clock: () => this.#now(),
    });
    this.#hub.attach(this.#server, gate);
    this.#carry = new CarryDesk({
      attach: (address) => this.#meters.attach(address),
      detach: (meter) => this.#meters.detach(meter),
      find: (place) => this.#bench.find(place),
      link: (meter) => this.#bench.forwardedLink(meter),
      now: () => this.#now(),
      startedAt: () => this.#startedAt,
    });
    this.#finding = new FindingDesk({
      attached: (place) => {
        const index = this.#bench.find(place)?.index;
        const meter = index === undefined ? null : this.#bench.byteMeter(index);
        return index === undefined || meter === null ? null : { index, meter };
      },
      layouts: () => layouts.all(),
      isMeter: (address) => isMeterAddress(address, this.#meterOptions()),
      onChanged: () => this.#hub.stateChanged(),
    });
    this.#teaching = new TeachDesk({
      meter: (index) => {
        const meter = this.#bench.byteMeter(index);
        if (meter === null) throw new RequestRefused('NO_BYTES', 'There is no such meter, or it sends no bytes that could be looked at.');
        return meter;
      },
      layouts,
      addresses: () => this.#bench.states().map(({ address }) => address),
      reread: (meter, address) => this.#meters.reread(meter, address),
    });
    this.#conduct = new Conduct(
      {
        recorder: this.#recorder,
        now: () => this.#now(),
        meters: () => this.#bench.records(),
        judgedMeter: () => this.#meters.judged,
        onChosen: (check) => this.#demo.choose(check),
        onHands: (hands) => this.#demo.follow(hands),
        onBeside: (leads) => this.#demo.place(leads),
        onJudged: (take, judgement) => this.#hub.judged(take, judgement),
        onDeparture: (take, departures) => this.#hub.departed(take, departures),
        locateThread: this.#locateThread,
        onLocated: (location) => this.#hub.located(location),
        onFile: (file, isTakeRunning) => {
          this.#lastSession.atHand(file);
          const state = this.#recording.state === 'not-saving' ? 'not-saving' : isTakeRunning ? 'saving' : 'idle';
          this.#setRecording({ file, state });
        },
      },
      this.#demo.chart,
      this.#demo.defaultCheck,
    );
  }

  async start(): Promise<void> {
    const { host, port } = this.#options;
    await this.#listen(host, port);
    const bound = this.#server.address();
    const boundPort = typeof bound === 'object' && bound !== null ? bound.port : port;
    this.#hosts = ownHosts(host, boundPort);
    this.address = `http://${hostText(host, boundPort)}`;
    if (this.#options.share !== null) await this.#share(this.#options.share);
    this.#bench.open({
      onReadings: (dated) => this.#hub.samples(this.#conduct.onReadings(dated), this.#conduct.isWatched(dated.meter)),
      onChanged: () => this.#hub.stateChanged(),
    });
    this.#portWatch = watchPorts(({ ports, message }) => {
      this.#ports = { message, ports: ports.map((port) => ({ ...port, address: addressOfPort(port) })) };
      this.#hub.stateChanged();
    });
    this.#interrupted = new InterruptedSessions(this.#library, this.#options.recordings);
    void this.#lastSession.recall(this.#library).then(() => this.#hub.stateChanged(), () => undefined);
    this.#timers.push(
      setInterval(() => this.#conduct.judgeNow(), JUDGE_IDLE_EVERY_MS),
      setInterval(() => this.#hub.stateChanged(), STATE_EVERY_MS),
    );
  }

  get sharedAddresses(): readonly string[] {
    return this.#sharing?.listener.addresses.map(({ url }) => url) ?? [];
  }

  async #share({ address, port }: ShareOptions): Promise<void> {
    try {
      const sharing = await openSharing({
        address,
        folder: join(this.#options.recordings, SETTINGS),
        openDevices: () => this.#hub.openDevices(),
        closePages: (device, reason) => this.#hub.closeDevice(device, reason),
      });
      this.#sharing = sharing;
      this.#hub.attach(sharing.listener.server, sharing);
      await sharing.listener.listen(port, createApp(this.#recordings.router, sharing, { open: openRoutes(sharing), known: knownRoutes(() => sharing), api: this.#pictures }));
    } catch (error) {
      if (!(error instanceof SharingError)) throw error;
      throw new ServiceError(error.code, error.message, { cause: error });
    }
  }

  async stop(): Promise<void> {
    for (const timer of this.#timers) clearInterval(timer);
    this.#portWatch?.stop();
    if (this.#conduct.isTakeRunning) this.#conduct.endTake('service-stopped');
    await this.#finding.close();
    this.#teaching.close();
    await this.#bench.close();
    await this.#recorder.close();
    await this.#recordings.close();
    await this.#interrupted?.close();
    await this.#library.close();
    this.#hub.close();
    await this.#locateThread.close();
    await this.#sharing?.close();
    const closed = new Promise<void>((resolve) => this.#server.close(() => resolve()));
    this.#server.closeAllConnections();
    await closed;
  }

  #carryOut(request: ClientRequest, page: HubPage): unknown {
    const result = this.#act(request, page);
    this.#hub.stateChanged();
    if (result instanceof Promise) void result.catch(() => undefined).then(() => this.#hub.stateChanged());
    return result;
  }

  #act(request: ClientRequest, page: HubPage): unknown {
    switch (request.type) {
      case 'carry-meter':
      case 'meter-link':
        return this.#carry.carryOut(request, page);
      case 'find-out':
      case 'stop-finding':
        return this.#finding.carryOut(request);
      case 'read-capture':
      case 'teach-lines':
      case 'teach-frames':
      case 'list-layouts':
      case 'read-layout':
      case 'save-layout':
      case 'remove-layout':
      case 'reread-meter':
        return this.#teaching.carryOut(request);
      case 'attach-meter':
      case 'detach-meter':
      case 'null-leads':
      case 'measure-aperture':
      case 'play-take':
      case 'judge-by':
      case 'describe-meter':
        return this.#meters.carryOut(request);
      case 'simulate':
        return this.#demo.simulate(request.fault);
      case 'refer-to':
        return this.#referTo(request);
      case 'new-session':
        if (this.#conduct.isTakeRunning) this.#conduct.endTake('stopped');
        this.#setClock(0);
        this.#bench.forgetFormer();
        return this.#conduct.carryOut(request);
      case 'go-on':
        if (request.session !== null) return this.#goingOn.goOn(request.session);
        return this.#lastSession.forget();
      default:
        return this.#conduct.carryOut(request);
    }
  }

  #turnTo(session: string, stored: ResumedSession, info: SessionInfo, at: number): void {
    const moved = this.#bench.renumber(stored.meters);
    this.#setClock(at);
    this.#meters.renumber(moved);
    // What is being found out names a meter by its old number.
    if (moved.size > 0) this.#finding.carryOut({ type: 'stop-finding' });
    this.#conduct.resume(session, info, stored, moved);
    this.#demo.connect(this.#conduct.reference);
  }

  /** The session clock reads so many seconds now. */
  #setClock(at: number): void {
    this.#startedAt = performance.now() / 1000 - at;
    this.#bench.restartClock(this.#startedAt);
    this.#hub.startOver();
  }

  #referTo(request: Extract<ClientRequest, { type: 'refer-to' }>): void {
    this.#conduct.carryOut(request);
    this.#demo.connect(this.#conduct.reference);
  }

  #meterOptions(): MeterOptions {
    return { layouts: this.#layouts.all(), playback: (target) => playedRecording(this.#library, target) };
  }

  #now(): number {
    return performance.now() / 1000 - this.#startedAt;
  }

  #state(): LiveState {
    return {
      version: VERSION,
      clock: this.#now(),
      meters: this.#bench.states(),
      ports: this.#ports,
      finding: this.#finding.state(),
      judgedMeter: this.#meters.judged,
      ...this.#conduct.state(),
      recording: this.#recording,
      offer: this.#lastSession.offer,
      simulation: this.#demo.state(),
    };
  }

  #setRecording(change: Partial<RecordingState>): void {
    this.#recording = { ...this.#recording, ...change };
    this.#hub.stateChanged();
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
