/**
 * Whether the readings can be what the check asks for: the meter on another function or range, holding an old value, an ohms reading that
 * behaves like a live circuit, leads the wrong way round. Then it says so instead of judging. Pure; thresholds are common practice,
 * no source.
 */
import type { Quantity } from '../../drivers/reading.ts';
import { Flag, fromFunctionCode } from '../../drivers/reading.ts';
import { expectedQuantities } from '../diagnosis/check-traits.ts';
import type { SampleColumns } from '../diagnosis/samples.ts';
import { sayBeside, sayLimit, sayTime, sayValue } from '../diagnosis/wording.ts';
import { OddRuns } from './odd-runs.ts';
import type { Check } from './session.ts';

export const WARNING_CODES = [
  'WRONG_FUNCTION', 'AC_FOR_DC', 'DIODE_TEST', 'NOT_LIVE_VALUE', 'RELATIVE', 'HOLD', 'LOW_BATTERY', 'BEYOND_RANGE', 'RANGE_TOO_COARSE', 'LIVE_CIRCUIT',
  'LEADS_REVERSED', 'HIGH_VOLTAGE',
] as const;
export type WarningCode = (typeof WARNING_CODES)[number];

/** Something is odd about the readings. */
export interface ReadingWarning {
  readonly code: WarningCode;
  /** What it is, and what to do. */
  readonly message: string;
  /** The readings can't be judged by this check: the verdict is undecided and says this. */
  readonly isInstead: boolean;
}

/** Names of functions, as on a meter. */
const FUNCTION_WORDS: Partial<Record<Quantity, string>> = {
  voltage: 'volts', current: 'current', resistance: 'ohms', frequency: 'frequency', capacitance: 'capacitance', temperature: 'temperature', duty: 'duty cycle',
};

/** Readings kept to say what holds now: at least this far apart, s, this many, and not older than this, s. */
const KEEP_EVERY = 0.03;
const KEPT = 32;
const NOW = 3;
/** Fewer readings say nothing about the function; fewer say nothing about how steady ohms are. */
const FEWEST = 3;
const FEWEST_FOR_OHMS = 12;
/** Ohms are looked at for a live circuit at every so many kept readings. */
const LOOK_EVERY = 4;
/** A circuit that shows itself live was so for this long before and after, s. */
const LIVE_AROUND = 1;
/** Volts the wrong way round for less than this are a transient, s. */
const REVERSED_FOR = 1;
/** Half of the changes from reading to reading larger than this part of the reading, and than these counts: no dead circuit. */
const ERRATIC_PART = 0.05;
const ERRATIC_COUNTS = 5;
/** Ohms below this are below zero, whatever the leads were nulled to. */
const NEGATIVE_OHMS = -0.5;
/** Volts below these are leads the wrong way round, no offset: of a drop, and of a supply. */
const REVERSED_DROP = -0.05;
const REVERSED_SUPPLY = -0.5;
/** A limit has to be at least this many counts. */
const LIMIT_COUNTS = 5;
/** UN Regulation No. 100, definition of high voltage (from memory), V. */
const HIGH_DC = 60;
const HIGH_AC = 30;

/** How many of a set of readings have what. */
interface Tally { n: number; wrong: number; ac: number; diode: number; frozen: number; relative: number; negative: number; hold: number; battery: number; over: number }

const NOTHING: Readonly<Tally> = { n: 0, wrong: 0, ac: 0, diode: 0, frozen: 0, relative: 0, negative: 0, hold: 0, battery: 0, over: 0 };

/** Ways to be odd that spoil a take when only a part of it was so, and what is said of it. */
const PARTLY = {
  LIVE_CIRCUIT: (time: string) => `The circuit behaved like a live one on ohms for ${time} of this take, so it proves nothing: disconnect the battery, unplug the loads, and make the take again.`,
  AC_FOR_DC: (time: string) => `The meter was on AC for ${time} of this take: make it again on DC.`,
  DIODE_TEST: (time: string) => `The meter was on diode test for ${time} of this take: make it again.`,
  NOT_LIVE_VALUE: (time: string) => `The meter showed a minimum, maximum or average for ${time} of this take: make it again.`,
  RELATIVE: (time: string) => `The meter showed the difference from a stored reading (relative) for ${time} of this take: make it again.`,
  LEADS_REVERSED: (time: string) => `The leads were the wrong way round for ${time} of this take: make it again.`,
} satisfies Partial<Record<WarningCode, (time: string) => string>>;
type PartCode = keyof typeof PARTLY;
const PART_CODES = Object.keys(PARTLY) as PartCode[];

interface Kept { readonly time: number; readonly value: number; readonly resolution: number; readonly flags: number; readonly code: number }

/** Feed it the samples of one check in order; constant memory. */
export class Plausibility {
  readonly #check: Check;
  readonly #wanted: readonly Quantity[];
  readonly #all: Tally = { ...NOTHING };
  readonly #byCode = new Map<number, { readonly isWrong: boolean; readonly isAc: boolean; readonly quantity: Quantity }>();
  #kept: Kept[] = [];
  #sinceLooked = 0;
  #windows = 0;
  #erratic = 0;
  #foreign: Quantity = 'unknown';
  readonly #isOhms: boolean;
  readonly #reversed: number;
  readonly #parts = new OddRuns<PartCode>(FEWEST);
  /** Ohms that jump about, which takes several readings to see: unlike less than zero ohms a scratching lead shows it too. */
  readonly #jumps = new OddRuns<'LIVE_CIRCUIT'>(1);

  constructor(check: Check) {
    this.#check = check;
    this.#wanted = check.quantity !== undefined ? [check.quantity] : expectedQuantities(check.kind);
    this.#isOhms = this.#wanted.length === 1 && this.#wanted[0] === 'resistance';
    this.#reversed = this.#reversedBelow();
  }

  push({ time, value, resolution, flags, functionCode }: SampleColumns, from = 0, to = time.length): void {
    for (let i = from; i < to; i++) {
      const at = time[i] as number;
      const flag = flags[i] as number;
      const code = functionCode[i] as number;
      const reading = value[i] as number;
      this.#count(this.#all, reading, flag, code);
      this.#notePart(at, reading, flag, code);
      const last = this.#kept.at(-1);
      if (last !== undefined && at - last.time < KEEP_EVERY) continue;
      this.#kept.push({ time: at, value: reading, resolution: resolution[i] as number, flags: flag, code });
      if (this.#kept.length > KEPT) this.#kept.shift();
      this.#sinceLooked++;
      if (this.#isOhms && this.#kept.length >= FEWEST_FOR_OHMS && this.#sinceLooked % LOOK_EVERY === 0) {
        const newest = this.#kept.slice(-FEWEST_FOR_OHMS);
        if (this.#isErratic(newest)) this.#jumps.addRun('LIVE_CIRCUIT', (newest[0] as Kept).time, at);
      }
      if (this.#sinceLooked >= KEPT / 2 && this.#kept.length >= FEWEST_FOR_OHMS) {
        this.#sinceLooked = 0;
        this.#windows++;
        if (this.#isErratic(this.#kept)) this.#erratic++;
      }
    }
  }

  /** What this one reading can't be, if it is to be what the check asks for. */
  #notePart(time: number, value: number, flags: number, code: number): void {
    const { isWrong, isAc, quantity } = this.#function(code);
    const isNegative = quantity === 'resistance' && value < NEGATIVE_OHMS;
    const isReversed = quantity === 'voltage' && value < this.#reversed;
    if ((flags & NOTABLE) === 0 && !isAc && !isNegative && !isReversed && !this.#parts.isOpen) return;
    const odd: PartCode[] = [];
    if (isNegative && this.#isOhms) odd.push('LIVE_CIRCUIT');
    if (isReversed) odd.push('LEADS_REVERSED');
    if (isAc && !isWrong) odd.push('AC_FOR_DC');
    if ((flags & Flag.diode) !== 0) odd.push('DIODE_TEST');
    if ((flags & (Flag.minimum | Flag.maximum | Flag.average)) !== 0) odd.push('NOT_LIVE_VALUE');
    if ((flags & Flag.relative) !== 0 && !this.#isOhms) odd.push('RELATIVE');
    for (const part of odd) this.#parts.see(part, time);
    if (this.#parts.isOpen) this.#parts.endOthers(odd);
  }

  /** What is odd about the newest readings. */
  now(): ReadingWarning[] {
    const newest = this.#kept.at(-1);
    if (newest === undefined) return [];
    const recent = this.#kept.filter(({ time }) => time > newest.time - NOW);
    const tally = { ...NOTHING };
    for (const { value, flags, code } of recent) this.#count(tally, value, flags, code);
    const finite = recent.map(({ value }) => value).filter(Number.isFinite).sort((a, b) => a - b);
    const level = finite.length >= FEWEST ? finite[finite.length >> 1] as number : null;
    const isErratic = recent.length >= FEWEST_FOR_OHMS && this.#isErratic(recent);
    const { quantity, isAc } = this.#function(newest.code);
    const isHigh = quantity === 'voltage' && Math.abs(newest.value) > (isAc ? HIGH_AC : HIGH_DC);
    return [
      ...(isHigh ? [{
        code: 'HIGH_VOLTAGE' as const, isInstead: false,
        message: `${sayBeside(Math.sign(newest.value) * (isAc ? HIGH_AC : HIGH_DC), newest.value, 'voltage', newest.resolution)}: above ${HIGH_DC} V DC or ${HIGH_AC} V AC is for trained and authorised people only. Take the leads off.`,
      }] : []),
      ...this.#oddities(tally, isErratic, level),
      ...this.#rangeTrouble(tally, newest),
    ];
  }

  /**
   * Why the readings as a whole can't be judged by this check, the gravest first.
   * @param level  the level that is judged, SI; null when there is none
   */
  instead(level: number | null): ReadingWarning[] {
    return this.#oddities(this.#all, this.#windows > 0 && this.#erratic > this.#windows / 3, level).filter(({ isInstead }) => isInstead);
  }

  /**
   * What can't be what the check asks for in a part of the readings: no pass may stand on them.
   * @param contact  of a spot take, the contact that is judged, session clock, s: what the leads met before and after says nothing of it,
   *   but for ohms below zero; null when the whole take is judged
   */
  partly(contact: { readonly start: number; readonly end: number } | null): ReadingWarning[] {
    const { start, end } = contact ?? { start: -Infinity, end: Infinity };
    return PART_CODES.flatMap((code) => {
      const own = code === 'LIVE_CIRCUIT' ? this.#parts.within(code) : this.#parts.within(code, start, end);
      const jumps = code === 'LIVE_CIRCUIT' ? this.#jumps.within(code, start, end) : { isAny: false, time: 0 };
      const time = Math.max(own.time, jumps.time);
      const isAny = (own.isAny || jumps.isAny) && (code !== 'LEADS_REVERSED' || time >= REVERSED_FOR);
      return isAny ? [{ code, isInstead: true, message: PARTLY[code](sayTime(time)) }] : [];
    });
  }

  /** Whether the circuit behaved like a live one on ohms then: what the ohms did meanwhile says nothing of the wire. Session clock, s. */
  wasLive(from: number, to: number): boolean {
    return [this.#parts, this.#jumps].some((runs) => runs.within('LIVE_CIRCUIT', from - LIVE_AROUND, to + LIVE_AROUND).isAny);
  }

  #count(tally: Tally, value: number, flags: number, code: number): void {
    const { isWrong, isAc, quantity } = this.#function(code);
    tally.n++;
    if (isWrong) {
      tally.wrong++;
      this.#foreign = quantity;
    } else if (isAc) tally.ac++;
    if (quantity === 'resistance' && value < NEGATIVE_OHMS) tally.negative++;
    if ((flags & NOTABLE) === 0) return;
    if ((flags & Flag.diode) !== 0) tally.diode++;
    if ((flags & (Flag.minimum | Flag.maximum | Flag.average)) !== 0) tally.frozen++;
    if ((flags & Flag.relative) !== 0) tally.relative++;
    if ((flags & Flag.hold) !== 0) tally.hold++;
    if ((flags & Flag.lowBattery) !== 0) tally.battery++;
    if ((flags & Flag.overRange) !== 0) tally.over++;
  }

  #function(code: number): { readonly isWrong: boolean; readonly isAc: boolean; readonly quantity: Quantity } {
    let known = this.#byCode.get(code);
    if (known === undefined) {
      const { quantity, coupling } = fromFunctionCode(code);
      const isWrong = quantity !== 'unknown' && this.#wanted.length > 0 && !this.#wanted.includes(quantity);
      known = { quantity, isWrong, isAc: coupling === 'ac' };
      this.#byCode.set(code, known);
    }
    return known;
  }

  #oddities(tally: Tally, isErratic: boolean, level: number | null): ReadingWarning[] {
    const found: ReadingWarning[] = [];
    const say = (code: WarningCode, isInstead: boolean, message: string): void => void found.push({ code, isInstead, message });
    const isMost = (count: number): boolean => tally.n >= FEWEST && count > tally.n / 2;
    const wanted = this.#wanted.map((quantity) => `${quantity === 'voltage' || quantity === 'current' ? 'DC ' : ''}${FUNCTION_WORDS[quantity] ?? quantity}`).join(' or ');
    const isOhms = this.#isOhms;
    if (isMost(tally.wrong)) {
      say('WRONG_FUNCTION', true, `The meter is on ${FUNCTION_WORDS[this.#foreign] ?? this.#foreign}; this check needs ${wanted}. Turn the dial.`);
    } else if (isMost(tally.ac)) {
      say('AC_FOR_DC', true, `The meter is on AC; this check needs ${wanted === '' ? 'DC' : wanted}. Turn it to DC.`);
    } else if (isMost(tally.diode)) {
      say('DIODE_TEST', true, `The meter is on diode test; this check needs ${wanted}. Turn the dial.`);
    }
    if (isMost(tally.frozen)) say('NOT_LIVE_VALUE', true, 'The meter shows a minimum, maximum or average, not the reading now: leave that mode.');
    if (isMost(tally.relative) && !isOhms) say('RELATIVE', true, 'The meter shows the difference from a stored reading (relative): leave that mode.');
    if (isMost(tally.hold)) say('HOLD', false, 'The meter holds an old reading: release hold. Until then nothing is watched.');
    if (tally.battery > 0) say('LOW_BATTERY', false, "The meter's battery is low: readings can be wrong. Change it.");
    if (isOhms && (isMost(tally.negative) || isErratic)) {
      say('LIVE_CIRCUIT', true, `${isMost(tally.negative) ? 'Less than zero ohms' : 'The ohms jump about'}: the circuit behaves like a live one. Disconnect the battery and unplug the loads, or lift the leads now.`);
    }
    if (level !== null && level < this.#reversed) {
      say('LEADS_REVERSED', true, `Reads ${sayValue(level, 'voltage', null)}: the leads are the wrong way round. Red goes ${onPoint(this.#check.red)}, black ${onPoint(this.#check.black)}.`);
    }
    return found;
  }

  /** Level below which the leads are the wrong way round, V; -Infinity where minus is as good as plus. */
  #reversedBelow(): number {
    if (!this.#wanted.includes('voltage')) return this.#check.kind === 'sensor-sweep' ? REVERSED_SUPPLY : -Infinity;
    switch (this.#check.kind) {
      case 'supply': case 'switched-supply': return REVERSED_SUPPLY;
      case 'ground': case 'voltage-drop': case 'fuse': return REVERSED_DROP;
      default: return -Infinity;
    }
  }

  #rangeTrouble(tally: Tally, newest: Kept): ReadingWarning[] {
    const { quantity, isWrong } = this.#function(newest.code);
    if (isWrong) return [];
    if (tally.n >= FEWEST && tally.over > tally.n / 2 && (quantity === 'voltage' || quantity === 'current')) {
      return [{ code: 'BEYOND_RANGE', isInstead: false, message: `Beyond the range in ${FUNCTION_WORDS[quantity]}: choose a higher range.` }];
    }
    const limits = [this.#check.limits.low, this.#check.limits.high].filter((limit): limit is number => limit !== null && limit !== 0);
    const least = Math.min(...limits.map(Math.abs));
    if (newest.resolution * LIMIT_COUNTS > least * (1 + 1e-9)) {
      return [{
        code: 'RANGE_TOO_COARSE', isInstead: false,
        message: `One step of the display is ${sayValue(newest.resolution, quantity, null)}, too coarse for a limit of ${sayLimit(least, quantity)}: choose a lower range.`,
      }];
    }
    return [];
  }

  /** Ohms that change from reading to reading: a dropout or a slow drift leaves most readings where they were. */
  #isErratic(kept: readonly Kept[]): boolean {
    const ohms = kept.filter(({ code, value }) => this.#function(code).quantity === 'resistance' && Number.isFinite(value));
    if (ohms.length < FEWEST_FOR_OHMS) return false;
    const changes = ohms.slice(1).map(({ value }, k) => Math.abs(value - (ohms[k] as Kept).value)).sort((a, b) => a - b);
    const values = ohms.map(({ value }) => Math.abs(value)).sort((a, b) => a - b);
    const change = changes[changes.length >> 1] as number;
    const counts = ohms.map(({ resolution }) => resolution).filter(Number.isFinite);
    return change > ERRATIC_PART * (values[values.length >> 1] as number) && change > ERRATIC_COUNTS * Math.max(0, ...counts);
  }
}

const NOTABLE = Flag.diode | Flag.minimum | Flag.maximum | Flag.average | Flag.relative | Flag.hold | Flag.lowBattery | Flag.overRange;

function onPoint(point: string): string {
  return point === '' ? 'on the other point' : `on ${point}`;
}
