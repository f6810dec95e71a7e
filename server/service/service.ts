/** The service: meters, session, recordings and dashboards put together, started and stopped. */
import { createServer, type Server } from 'node:http';
import { join } from 'node:path';
import { addressOfPort, type MeterOptions, watchPorts } from '../../drivers/index.ts';
import { createDemo, type Demo } from '../demo/index.ts';
import {
  createApp, hostText, Hub, knownRoutes, libraryRoutes, LoopbackGate, openRoutes, openSharing, ownHosts, repairRoutes, RequestRefused, SharingError, type HubPage, type LibraryRoutes, type Sharing,
} from '../live/index.ts';
import type { ClientRequest, LivePorts, LiveState, RecordingState } from '../live/protocol.ts';
import { InterruptedSessions, Library, Recorder, type ResumedSession } from '../recordings/index.ts';
import { profileOf } from '../session/meter-profile.ts';
import type { MeterRecord, SessionInfo } from '../session/session.ts';
import { VERSION } from '../version.ts';
import { CarryDesk } from './carry-desk.ts';
import { FindingDesk } from './finding-desk.ts';
import { LayoutShelf } from './layout-shelf.ts';
import { Conduct } from './conduct.ts';
import { GoingOn } from './going-on.ts';
import { LastSession } from './last-session.ts';
import { LocateThread } from './locate-thread.ts';
import { isMeterAddress, MeterBench, SCENARIO } from './meter-bench.ts';
import { TeachDesk } from './teach-desk.ts';
import { MeterMemory } from './meter-memory.ts';
import { playedRecording, profileOfPlayed } from './played-recording.ts';
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
  readonly #memory: MeterMemory;
  readonly #bench: MeterBench;
  /** The circuit that the simulated meters measure; null when every meter is real. */
  #demo: Demo | null = null;
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
  #judgedMeter = 0;
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
    this.#memory = new MeterMemory(join(options.recordings, SETTINGS, 'meters.json'));
    this.#lastSession = new LastSession(join(options.recordings, SETTINGS, 'session.json'));
    this.#bench = new MeterBench(this.#startedAt, () => this.#meterOptions());
    for (const address of this.#addresses()) this.#bench.attach(address, this.#memory.profile(address));
    this.#connectDemo(null);

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
      attach: (address) => this.#attach(address),
      detach: (meter) => this.#detach(meter),
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
      reread: (meter, address) => this.#reread(meter, address),
    });
    this.#conduct = new Conduct(
      {
        recorder: this.#recorder,
        now: () => this.#now(),
        meters: () => this.#bench.records(),
        judgedMeter: () => this.#judgedMeter,
        onChosen: (check) => this.#demo?.choose(check),
        onHands: (hands) => this.#demo?.follow(hands),
        onBeside: (leads) => this.#demo?.place(leads),
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
      this.#demo?.chart ?? null,
      this.#demo?.defaultCheck ?? null,
    );
  }

  /** The leads of every simulated meter touch the demo harness: those of the one beside the take its battery. */
  #connectDemo(reference: number | null = this.#conduct.reference): void {
    const simulated = this.#bench.simulated();
    this.#demo = simulated[0] === undefined ? null : this.#demo ?? createDemo(simulated[0].meter.seed);
    for (const { index, meter } of simulated) {
      const lag = (): number => (meter.startedAt() ?? 0) - (simulated[0]!.meter.startedAt() ?? 0);
      meter.setSignal(index === reference ? this.#demo!.battery : this.#demo!.signalOf(index, lag));
    }
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
        return this.#attach(request.address);
      case 'detach-meter':
        return this.#detach(request.meter);
      case 'null-leads':
        return this.#nullLeads(request.meter);
      case 'measure-aperture':
        this.#needMeter(request.meter);
        return this.#bench.measureAperture(request.meter, request.isRunning);
      case 'play-take':
        return this.#playTake(request);
      case 'judge-by':
        this.#needMeter(request.meter);
        this.#judgedMeter = request.meter;
        // A meter can't be beside itself.
        if (this.#conduct.reference === request.meter) this.#act({ type: 'refer-to', meter: null }, page);
        return undefined;
      case 'simulate':
        return this.#simulate(request.fault);
      case 'describe-meter':
        return this.#describeMeter(request);
      case 'refer-to':
        this.#conduct.carryOut(request);
        return this.#connectDemo();
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
    this.#judgedMeter = moved.get(this.#judgedMeter) ?? this.#judgedMeter;
    this.#setClock(at);
    this.#carry.renumber(moved, (meter) => this.#bench.record(meter));
    // What is being found out names a meter by its old number.
    if (moved.size > 0) this.#finding.carryOut({ type: 'stop-finding' });
    this.#conduct.resume(session, info, stored, moved);
    this.#connectDemo();
  }

  /** The session clock reads so many seconds now. */
  #setClock(at: number): void {
    this.#startedAt = performance.now() / 1000 - at;
    this.#bench.restartClock(this.#startedAt);
    this.#hub.startOver();
  }

  #attach(address: string, known = this.#memory.profile(address)): MeterRecord {
    const record = refusing(() => this.#bench.attach(address, known));
    // Who brings a meter of their own is through with the simulated one.
    const isFirstOwn = !record.simulated && record.playedAt === undefined && this.#bench.record(this.#judgedMeter)?.simulated === true && !this.#conduct.isTakeRunning;
    if (isFirstOwn || !this.#bench.has(this.#judgedMeter)) this.#judgedMeter = record.index;
    this.#connectDemo();
    this.#conduct.offerChart(this.#demo?.chart ?? null);
    this.#conduct.onMetersDescribed();
    this.#rememberAttached();
    return record;
  }

  /** Those asked for at the start; else those of last time that can still be understood; else a simulated one. */
  #addresses(): readonly string[] {
    const { meters } = this.#options;
    if (meters.length > 0) return meters;
    const remembered = this.#memory.attached().filter((address) => isMeterAddress(address, this.#meterOptions()));
    return remembered.length > 0 ? remembered : [`simulated:${SCENARIO}`];
  }

  #meterOptions(): MeterOptions {
    return { layouts: this.#layouts.all(), playback: (target) => playedRecording(this.#library, target) };
  }

  #rememberAttached(): void {
    this.#memory.setAttached(this.#bench.states().map(({ address }) => address).filter((address) => !/^(browser|playback):/.test(address)));
  }

  #detach(meter: number): void {
    this.#needMeter(meter);
    if (this.#conduct.isTakeRunning && meter === this.#judgedMeter) {
      throw new RequestRefused('METER_IN_USE', 'This meter is judged in the running take: stop the take first.');
    }
    void this.#bench.detach(meter);
    this.#carry.forget(meter);
    if (meter === this.#judgedMeter) this.#judgedMeter = this.#bench.states()[0]?.index ?? meter;
    this.#connectDemo();
    this.#conduct.offerChart(this.#demo?.chart ?? null);
    this.#rememberAttached();
  }

  /** The same meter, read in another way from now on; it judges if it did, and its page goes on carrying it. */
  async #reread(meter: number, address: string): Promise<MeterRecord> {
    this.#needMeter(meter);
    refusing(() => this.#bench.check(address));
    const { interval: _, aperture: __, ...known } = profileOf(this.#bench.record(meter)!);
    const isJudged = meter === this.#judgedMeter;
    if (this.#conduct.isTakeRunning && isJudged) throw new RequestRefused('METER_IN_USE', 'This meter is judged in the running take: stop the take first.');
    const carried = this.#carry.release(meter);
    await this.#bench.detach(meter);
    const record = refusing(() => this.#bench.attach(address, { ...known, ...this.#memory.profile(address) }));
    if (isJudged || !this.#bench.has(this.#judgedMeter)) this.#judgedMeter = record.index;
    if (carried !== null) this.#carry.resume(carried, meter, record);
    this.#conduct.onMetersDescribed();
    this.#rememberAttached();
    return record;
  }

  #nullLeads(meter: number): number {
    this.#needMeter(meter);
    const leadOhms = refusing(() => this.#bench.nullLeads(meter));
    this.#describeMeter({ type: 'describe-meter', meter, leadOhms, leadsNulled: new Date().toISOString().slice(0, 10) });
    return leadOhms;
  }

  async #playTake({ session, take, speed }: Extract<ClientRequest, { type: 'play-take' }>): Promise<MeterRecord> {
    const played = await profileOfPlayed(this.#library, session, take, speed);
    if (played === null) throw new RequestRefused('NO_SUCH_TAKE', `The session ${session} has no take ${take}.`);
    return this.#attach(`playback:${encodeURIComponent(session)}/${take}?speed=${speed}`, played);
  }

  #needMeter(meter: number): void {
    if (!this.#bench.has(meter)) throw new RequestRefused('NO_SUCH_METER', `There is no meter ${meter}.`);
  }

  #simulate(fault: string): void {
    if (this.#demo === null) throw new RequestRefused('NOT_SIMULATED', 'Only a simulated meter can be given a fault.');
    if (!this.#demo.faults.some(({ id }) => id === fault)) throw new RequestRefused('NO_SUCH_FAULT', `The simulation knows no fault "${fault}".`);
    this.#demo.setFault(fault);
  }

  #describeMeter({ meter, ...known }: Extract<ClientRequest, { type: 'describe-meter' }>): void {
    const before = this.#bench.record(meter);
    if (before === undefined) throw new RequestRefused('NO_SUCH_METER', `There is no meter ${meter}.`);
    const { type: _, ...profile } = { ...profileOf(before), ...known };
    const { interval, aperture } = profile;
    if (aperture && interval && aperture > interval) {
      throw new RequestRefused('APERTURE_TOO_LONG', 'A meter cannot average for longer than its sample interval: give an aperture up to the interval.');
    }
    this.#bench.describe(meter, profile);
    if (before.playedAt === undefined) this.#memory.learn(before.address, profile);
    this.#conduct.onMetersDescribed();
  }

  #now(): number {
    return performance.now() / 1000 - this.#startedAt;
  }

  #state(): LiveState {
    const demo = this.#demo;
    return {
      version: VERSION,
      clock: this.#now(),
      meters: this.#bench.states(),
      ports: this.#ports,
      finding: this.#finding.state(),
      judgedMeter: this.#judgedMeter,
      ...this.#conduct.state(),
      recording: this.#recording,
      offer: this.#lastSession.offer,
      simulation: demo === null ? null : { scenario: demo.title, complaint: demo.complaint, faults: demo.faults, fault: demo.fault },
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

/** What the user must mend is told to the dashboard that asked. */
function refusing<Result>(act: () => Result): Result {
  try {
    return act();
  } catch (error) {
    if (error instanceof ServiceError) throw new RequestRefused(error.code, error.message, { cause: error });
    throw error;
  }
}
