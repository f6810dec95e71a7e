/**
 * What dashboards ask for about meters that hang on the dashboard's own device, that nobody knows yet, or that are being taught. Types
 * only, shared with the browser; checked by meter-requests.ts.
 */
import type { Layout, TextLayout } from '../../drivers/decoders/text-layout.ts';
import type { Reading } from '../../drivers/reading.ts';

/** A page that has a meter of its own (Bluetooth, or a serial port of its device) forwards its bytes: binary frames of forwarded-frame.ts. */
export type CarryRequest =
  /**
   * This page carries the meter of the address (`browser:NAME?...`), which is attached when it is not there yet; gives back its MeterRecord.
   * `carrier` names the page for as long as it lives: with it a page that lost contact takes up its meter again. Refused with
   * CARRIED_ELSEWHERE while another page carries it.
   */
  | { readonly type: 'carry-meter'; readonly carrier: string; readonly address: string }
  /** The page is connected to its meter, for the first time or again (numbers of chunks begin at 0), or has lost it; why, as a sentence. */
  | { readonly type: 'meter-link'; readonly meter: number; readonly isConnected: boolean; readonly reason: string };

/** To the page that carries the meter only: bytes that its decoder asks with, as base64. */
export interface MeterWrite {
  readonly type: 'write-meter';
  readonly meter: number;
  readonly bytes: string;
}


/** To the page that carries the meter only: it is read in another way from now on, under another number. */
export interface MeterMoved {
  readonly type: 'meter-moved';
  readonly meter: number;
  readonly to: number;
  readonly address: string;
}

/** A reading as JSON has it: null where it has no number. */
export type ShownReading = Omit<Reading, 'value' | 'resolution'> & { readonly value: number | null; readonly resolution: number | null };

/** Finding out what an unknown meter says; one at a time, the same for every dashboard. */
export interface LiveFinding {
  /** As asked for. */
  readonly address: string;
  /** The attached meter that is listened to; null for a port that is read by nobody. */
  readonly meter: number | null;
  readonly phase: 'listening' | 'asking' | 'recognised' | 'unrecognised' | 'silent' | 'trouble';
  /** Listened to at this rate; null for a link without one. */
  readonly baud: number | null;
  /** Bytes heard at it. */
  readonly bytes: number;
  /** Part of the time that it may take, 0 to 1. */
  readonly share: number;
  /** Something was sent, after the user agreed. */
  readonly wasAsked: boolean;
  /** Best first. */
  readonly guesses: readonly FoundGuess[];
  /** What repeats in a stream that nothing reads; null when nothing does. */
  readonly frames: { readonly length: number; readonly count: number } | null;
  /** To attach for teaching; null unless it is unrecognised. */
  readonly teachAddress: string | null;
  /** What the matter is and what to do; empty when all is well. */
  readonly message: string;
}

export interface FoundGuess {
  /** To attach, or to read an attached meter by. */
  readonly address: string;
  readonly baud: number | null;
  /** A score between 0 and 1 for ordering, not a probability. */
  readonly confidence: number;
  readonly interval: number | null;
  readonly doubts: readonly string[];
  /** What it reads, newest last. */
  readonly readings: readonly ShownReading[];
}

export type FindRequest =
  /** Listens, and asks only when told that it may; what comes of it is in the state. Refused with FINDING_RUNS. `patience`: s for listening. */
  | { readonly type: 'find-out'; readonly address: string; readonly mayAsk?: boolean; readonly patience?: number }
  /** Stops finding out, or forgets what came of it. */
  | { readonly type: 'stop-finding' };

/** What a meter sends, as far as it can be taught; newest last. */
export interface Capture {
  readonly kind: 'nothing' | 'text' | 'frames' | 'noise';
  /** Bytes captured so far. */
  readonly bytes: number;
  readonly lines: readonly string[];
  /** Frames in hexadecimal. */
  readonly frames: readonly string[];
  /** For each byte of a frame, whether it was always the same. */
  readonly fixed: readonly boolean[];
  /** And whether it takes a few values only, as unit, range and sign do. */
  readonly marks: readonly boolean[];
  /** Frames captured so far. */
  readonly count: number;
}

export interface FrameExample { readonly frame: string; readonly shown: string }
export interface LineExample { readonly line: string; readonly shown: string }
/** Which value of a line is meant, and what it is. */
export type TextChoice = Pick<TextLayout, 'field' | 'decimal' | 'unit' | 'newline'>;

export type Preview = readonly { readonly sent: string; readonly reading: ShownReading | null }[];

export type TaughtAnswer =
  | { readonly kind: 'taught'; readonly layout: Layout; /** What the examples could not tell, each with what to show for it. */ readonly undetermined: readonly string[]; readonly preview: Preview }
  /** `ask`: the line or frame about which the ways that are left disagree; null when none captured tells. */
  | { readonly kind: 'ambiguous'; readonly ways: number; readonly ask: string | null; readonly couldBe: readonly string[] }
  | { readonly kind: 'failed'; readonly why: string };

/** A layout as it is listed. */
export interface LayoutListing {
  readonly name: string;
  readonly kind: Layout['layout'];
  readonly origin: string;
  readonly description: string;
}

export interface LayoutList {
  readonly layouts: readonly LayoutListing[];
  /** Files that can't be used, with what is wrong in each. */
  readonly unusable: readonly { readonly file: string; readonly faults: readonly string[] }[];
}

export type TeachRequest =
  /** What the meter has sent since it was first asked for; looking goes on for some seconds. Gives back a Capture. */
  | { readonly type: 'read-capture'; readonly meter: number }
  /** Gives back a TaughtAnswer. `chosen`: what the user pointed at; null to work it out from the examples. */
  | { readonly type: 'teach-lines'; readonly meter: number; readonly name: string; readonly examples: readonly LineExample[]; readonly chosen: TextChoice | null }
  /** Gives back a TaughtAnswer. `leavesUnknown`: frames with marks that no example has are left unread. */
  | { readonly type: 'teach-frames'; readonly meter: number; readonly name: string; readonly examples: readonly FrameExample[]; readonly leavesUnknown: boolean }
  /** Gives back a LayoutList: layouts of the user's own. */
  | { readonly type: 'list-layouts' }
  /** Gives back the Layout, to be shared. */
  | { readonly type: 'read-layout'; readonly name: string }
  /** Taught here, or given by somebody else. Refused with BAD_LAYOUT or LAYOUT_EXISTS. */
  | { readonly type: 'save-layout'; readonly layout: unknown }
  /** Refused with LAYOUT_IN_USE while an attached meter is read by it. */
  | { readonly type: 'remove-layout'; readonly name: string }
  /** Reads an attached meter in another way; gives back its new MeterRecord. */
  | { readonly type: 'reread-meter'; readonly meter: number; readonly address: string };

/** What is found out about a meter, and a recording that stands in for one. */
export type KnowRequest =
  /**
   * From now on the user taps a steady voltage with the lead, each time for three readings or more: the aperture follows, in
   * `LiveMeter.tapping`. False: no longer.
   */
  | { readonly type: 'measure-aperture'; readonly meter: number; readonly isRunning: boolean }
  /**
   * A recorded take played as a meter, 1 to 1,000 times as fast; gives back its MeterRecord, with what was known of the meter that measured
   * it. Faster than life its takes stay undecided. Refused with NO_SUCH_TAKE.
   */
  | { readonly type: 'play-take'; readonly session: string; readonly take: number; readonly speed: number };

export type MeterRequest = CarryRequest | FindRequest | TeachRequest | KnowRequest;
