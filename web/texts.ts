/** Every text of the dashboard in one place, so that another language is one more file of this shape. */
import type { Quantity } from '../drivers/reading.ts';
import type { LinkState } from '../drivers/meter.ts';
import type { CheckKind, Verdict, Watching } from '../server/diagnosis/judgement.ts';
import type { Action, Theme } from './preferences.ts';

const count = (n: number, one: string, many: string) => `${n} ${n === 1 ? one : many}`;

export const texts = {
  appName: 'Loomtrace',
  nav: { label: 'Screens', watch: 'Watch', review: 'Review', skip: 'Skip to the screen' },

  contact: {
    label: 'Connections',
    service: 'Service',
    meter: 'Meter',
    connecting: 'connecting',
    connected: 'connected',
    lost: (age: string) => `lost ${age} ago, trying again`,
    lostNever: 'not reached yet, trying again',
    lostLong: (age: string) =>
      `No contact with the service for ${age}. What you see is old. A take that is running goes on in the service as long as it lives. This page tries again by itself; if it does not come back, look whether the service still runs.`,
    noMeter: 'none',
    link: {
      opening: 'opening', open: 'reading', silent: 'silent', gone: 'gone', retry: 'trying again', failed: 'needs you', closed: 'closed',
    } satisfies Record<LinkState, string>,
    waitingFirst: 'no reading yet',
    silentFor: (age: string) => `silent for ${age}`,
    skipped: (n: number) => `${count(n, 'line', 'lines')} not understood`,
  },

  recording: { saving: 'Saving', idle: 'Not recording', notSaving: 'NOT SAVING', label: 'Recording' },

  simulated: {
    badge: 'Simulated meter',
    long: 'This meter exists only in software. Nothing is being measured.',
    fault: 'What is wrong with it',
  },

  reading: {
    label: 'Reading',
    beyond: 'beyond range',
    blank: 'no value shown',
    none: 'no reading yet',
    old: (age: string) => `${age} old`,
    hold: 'held by the meter',
    noUnit: 'the meter names no unit',
    /** "DC volts". */
    quantity: (quantity: Quantity, coupling: string) => `${couplingWords[coupling] ?? ''}${quantityWords[quantity]}`,
    dropoutNow: (n: number) => (n === 1 ? 'Dropout' : `${n} dropouts`),
    lowBattery: 'meter battery low',
  },

  check: {
    label: 'Check in progress',
    kinds: {
      supply: 'Supply', 'switched-supply': 'Switched supply', ground: 'Ground', fuse: 'Fuse', 'short-to-ground': 'Short to ground',
      'short-to-supply': 'Short to supply', 'short-between': 'Short between', continuity: 'Continuity', 'voltage-drop': 'Voltage drop',
      resistance: 'Resistance', current: 'Current', 'sensor-sweep': 'Sensor sweep',
    } satisfies Record<CheckKind, string>,
    redLead: 'Red lead',
    blackLead: 'Black lead',
    on: (point: string) => `on ${point}`,
    anywhere: 'not chosen',
    sentence: (red: string, black: string, condition: string) =>
      `Red lead on ${red || '?'}, black lead on ${black || '?'}${condition === '' ? '' : `; ${condition}`}.`,
    condition: 'Circuit',
    first: 'First',
    choose: 'Change check',
    chooseTitle: 'Choose a check',
    listed: 'Checks for this chart',
    byHand: 'A check made by hand',
    kind: 'Kind of check',
    red: 'Red lead on',
    black: 'Black lead on',
    low: (unit: string) => `Not below, ${unit}`,
    high: (unit: string) => `Not above, ${unit}`,
    conditionInput: 'State of the circuit, for instance "key on, clutch on"',
    use: 'Use this check',
    useAndGoOn: 'Use this check (the running take ends, the next begins)',
    close: 'Close',
    basisTyped: 'typed by the user',
    badNumber: 'Type a number, for instance 0.5, or leave it empty.',
    badOrder: 'The upper limit is below the lower one.',
    pointNeeded: 'Say where the red lead goes.',
    cautions: 'Caution',
    within: (low: string, high: string) => `${low} to ${high}`,
    notAbove: (high: string) => `not above ${high}`,
    notBelow: (low: string) => `not below ${low}`,
    noLimits: 'no limits',
    chosen: 'chosen',
  },

  watching: {
    label: 'Way of watching',
    names: { spot: 'Spot', wiggle: 'Wiggle', road: 'Road' } satisfies Record<Watching, string>,
    meanings: {
      spot: 'One touch, one settled reading.',
      wiggle: 'Leads fixed, harness flexed: every dropout counts.',
      road: 'Leads fixed, on the move: every dropout counts.',
    } satisfies Record<Watching, string>,
  },

  take: {
    start: 'Start take',
    stop: 'Stop take',
    running: (time: string) => `Take runs, ${time}`,
    number: (n: number) => `Take ${n}`,
    none: 'No take runs. What you see is not recorded.',
    next: 'Next check',
    nextNamed: (name: string) => `Next: ${name}`,
    mark: 'Mark',
    flex: 'Flexed once',
    flexes: 'Flexes',
    ended: 'Ended takes of this session',
    controls: 'Controls',
    newSession: 'New session',
  },

  marks: { plain: 'mark', made: 'Marked.', label: 'Marks' },

  verdict: {
    label: 'Verdict',
    soFar: 'so far',
    final: (n: number) => `take ${n}, ended`,
    words: { pass: 'Pass', fail: 'Fail', intermittent: 'Intermittent', undecided: 'Undecided' } satisfies Record<Verdict, string>,
    none: 'No verdict yet',
    noneWhy: 'Put the leads where the check says, then start a take. Nothing is judged before that.',
    more: 'More reasons',
    level: 'Level',
    limits: 'Limits',
    dropouts: 'Dropouts',
    departures: (n: number) => `${n} departures in all`,
    sags: 'Sags',
    shifts: 'Shifts',
    gaps: 'Gaps',
    shortest: 'Shortest break this meter may show',
    sure: 'Break it cannot miss',
    rate: (length: string) => `Rate of breaks of ${length} still believable`,
    perHour: (n: string) => `at most ${n} an hour`,
    threshold: 'Departure that is noticed',
    noise: 'Noise',
    samples: 'Samples',
    interval: 'Sample interval',
    unknown: 'not known yet',
    numbers: 'Numbers behind it',
    basis: (basis: string) => `Limits: ${basis}`,
  },

  lane: {
    label: 'What happened',
    rows: { dropout: 'Dropouts', other: 'Sag, shift', gap: 'No data', mark: 'Marks' },
    summary: (dropouts: number, sags: number, shifts: number, gaps: number, marks: number) =>
      `${count(dropouts, 'dropout', 'dropouts')}, ${count(sags, 'sag', 'sags')}, ${count(shifts, 'shift', 'shifts')}, ${count(gaps, 'gap', 'gaps')}, ${count(marks, 'mark', 'marks')}`,
  },

  trace: {
    label: 'Trace',
    window: 'Seconds shown',
    windowOption: (seconds: number) => (seconds < 60 ? `${seconds} s` : `${seconds / 60} min`),
    now: 'now',
    describe: (from: string, to: string, low: string, high: string) => `Trace from ${from} to ${to}, between ${low} and ${high}`,
    empty: 'Trace, without a reading so far',
    limit: (value: string) => `limit ${value}`,
    beyond: 'beyond range',
  },

  dropouts: {
    title: 'Dropouts of this take',
    none: 'No dropout so far.',
    noneEver: 'No dropout in this take.',
    number: 'No.',
    at: 'At',
    depth: 'By',
    length: 'Open for',
    departures: 'Departures',
    beyond: 'beyond range',
    goTo: (n: number) => `Go to dropout ${n}`,
    atLeast: 'at least', atMost: 'at most', to: 'to',
  },

  sound: {
    label: 'Sound',
    on: 'Sound on', off: 'Sound off', blocked: 'Sound blocked', missing: 'No sound here',
    blockedLong: 'The browser keeps sound back. Tap the sound button again, and look whether this page is muted.',
    missingLong: 'This browser has no sound for pages. Dropouts are still shown.',
    test: 'Test chirp',
    volume: 'Loudness of the chirp',
    offHint: 'Dropouts are silent until you turn sound on.',
  },

  settings: {
    open: 'Settings',
    title: 'Settings',
    theme: 'Light or dark',
    themes: { system: 'As the device', light: 'Light', dark: 'Dark' } satisfies Record<Theme, string>,
    keys: 'Keys',
    keysOn: 'Single keys work',
    keysWhy: 'A foot switch or presenter sends a key too: press "Change", then the pedal.',
    change: 'Change',
    pressKey: 'Press a key …',
    actions: { take: 'Start or stop a take', mark: 'Mark', flex: 'Count a flex', next: 'Next check', sound: 'Sound on or off' } satisfies Record<Action, string>,
    meter: 'What is known of the meter',
    meterWhy: 'Printed in its manual. Without the accuracy no reading close to a limit can be decided.',
    percent: 'Accuracy, % of reading',
    counts: 'plus counts',
    leadOhms: 'Resistance of the leads, Ω',
    interval: 'Time between readings, s',
    aperture: 'Time over which it averages, s',
    save: 'Use',
    saved: 'Used from now on.',
    session: 'This session',
    sessionTitle: 'Name',
    vehicle: 'Vehicle or machine',
    complaint: 'Complaint',
    close: 'Close',
  },

  keysHint: { keys: 'Keys', off: 'Single keys are off' },

  status: {
    label: 'Status',
    reading: (value: string) => `Reading ${value}.`,
    takeRuns: (time: string) => `Take runs for ${time}.`,
    noTake: 'No take runs.',
    dropouts: (n: number) => `${count(n, 'dropout', 'dropouts')}.`,
    verdict: (word: string) => `Verdict so far: ${word}.`,
    noContact: 'No contact with the service.',
    stale: (age: string) => `The meter has been silent for ${age}.`,
  },

  trouble: {
    noContact: 'There is no contact with the service: nothing was done. It is tried again by itself.',
    noAnswer: 'The service did not answer: look at the screen whether it was done.',
    noNextCheck: 'There is no other check in the list. Choose one, or make one by hand.',
    markNeedsTake: 'A mark belongs to a take: start one first.',
    flexNeedsWiggle: 'Flexes are counted in a wiggle take: start one first.',
    dismiss: 'Dismiss',
  },

  review: {
    title: 'Review',
    sessions: 'Sessions',
    loading: 'Loading …',
    noSessions: 'Nothing is recorded yet. A session is kept as soon as its first take starts.',
    failed: (why: string) => `Could not be loaded: ${why}`,
    noContact: 'the service does not answer',
    again: 'Try again',
    takes: (n: number) => count(n, 'take', 'takes'),
    recordingNow: 'being recorded',
    damaged: 'damaged',
    untitled: 'Session without a name',
    takesTitle: 'Takes',
    noTakes: 'This session has no take.',
    chooseTake: 'Choose a take to see its trace and its dropouts.',
    chooseSession: 'Choose a session.',
    back: 'All sessions',
    backToTakes: 'All takes',
    began: 'Began',
    length: 'Length',
    endings: {
      running: 'still running', stopped: 'stopped', 'next-check': 'next check chosen', 'service-stopped': 'the service was stopped',
      interrupted: 'interrupted: the service died',
    },
    zoomIn: 'Closer', zoomOut: 'Wider', whole: 'Whole take', left: 'Earlier', right: 'Later',
    view: 'Part of the take that is shown',
    viewText: (from: string, to: string) => `${from} to ${to}`,
    help: 'Drag to move, wheel or pinch to zoom. Keys on the trace: arrows move, plus and minus zoom, Home shows all.',
    loadingTrace: 'Loading this part …',
  },
};

const couplingWords: Record<string, string> = { dc: 'DC ', ac: 'AC ', acdc: 'AC + DC ' };
const quantityWords: Record<Quantity, string> = {
  unknown: 'value', voltage: 'volts', current: 'amperes', resistance: 'resistance', frequency: 'frequency', capacitance: 'capacitance',
  temperature: 'temperature', duty: 'duty', conductance: 'conductance', power: 'power',
};
