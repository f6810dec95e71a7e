/**
 * Pairing codes: one at a time, short-lived, good for one device, and not to be guessed. A code is shown on the main screen
 * and typed, or scanned, on the device that wants in. The caller brings the time.
 */
import { createHash, randomInt, timingSafeEqual } from 'node:crypto';
import type { CodeEnd } from '../sharing-protocol.ts';
import { refused, type Refusal, type Role } from './caller.ts';

/** Digits and letters that are not mistaken for each other (Crockford's base 32: no I, L, O, U). */
const SYMBOLS = '0123456789ABCDEFGHJKMNPQRSTVWXYZ';
/** 40 bits: at the few tries that a code stands, one chance in tens of thousands of millions. */
const CODE_LENGTH = 8;
export const CODE_LIFE = 300;
/** Wrong tries that one address has in this many seconds. */
const TRIES = 5;
const TRIES_TIME = 60;
/** Wrong tries from anywhere after which the open code is closed. */
const TRIES_A_CODE = 20;
/** How long a code that is no longer good is told from one that never was, s. */
const REMEMBERED_TIME = 3600;
const MOST_ADDRESSES = 1000;

export interface PairingCode {
  /** As shown: two groups of four. */
  readonly code: string;
  readonly role: Role;
  /** On the caller's clock, s. */
  readonly expiresAt: number;
}

interface Open extends PairingCode { wrong: number }
interface Ended { readonly code: string; readonly why: CodeEnd; readonly at: number }

export type PairingOutcome = { readonly kind: 'paired'; readonly role: Role } | Refusal;

export class PairingDesk {
  #open: Open | null = null;
  #ended: Ended[] = [];
  readonly #wrong = new Map<string, number[]>();

  /** Opens a new code; the one before is no longer good. @param now s */
  open(role: Role, now: number): PairingCode {
    this.close(now);
    let code = '';
    for (let i = 0; i < CODE_LENGTH; i++) code += SYMBOLS[randomInt(SYMBOLS.length)];
    this.#open = { code: `${code.slice(0, 4)}-${code.slice(4)}`, role, expiresAt: now + CODE_LIFE, wrong: 0 };
    return this.#open;
  }

  close(now: number): void {
    if (this.current(now) !== null) this.#end('closed', now);
  }

  current(now: number): PairingCode | null {
    if (this.#open !== null && now >= this.#open.expiresAt) this.#end('expired', this.#open.expiresAt);
    return this.#open;
  }

  /** What became of the last code; null when there was none or one is open. */
  lastEnd(now: number): CodeEnd | null {
    return this.current(now) === null ? this.#ended.at(-1)?.why ?? null : null;
  }

  /**
   * A device tries a code. A right one is used up by it.
   * @param typed  as typed: any case, with or without spaces and dashes
   * @param from  address of the device
   */
  try(typed: string, from: string, now: number): PairingOutcome {
    const open = this.current(now);
    const wait = this.#wait(from, now);
    if (wait > 0) return refused(429, 'TOO_MANY_TRIES', `Too many wrong codes from this device. Wait ${Math.ceil(wait)} seconds, then type the code on the main screen.`);
    const code = normalCode(typed);
    if (open !== null && isSame(code, normalCode(open.code))) {
      this.#end('used', now);
      return { kind: 'paired', role: open.role };
    }
    this.#countWrong(from, now);
    const ended = this.#ended.findLast((other) => now - other.at < REMEMBERED_TIME && isSame(code, normalCode(other.code)));
    const refusal = ended === undefined ? this.#refuseUnknown(open) : refuseEnded(ended.why);
    if (open !== null && ++(open as Open).wrong >= TRIES_A_CODE) this.#end('guessed', now);
    return refusal;
  }

  #refuseUnknown(open: PairingCode | null): Refusal {
    return open === null
      ? refused(403, 'NO_CODE_OPEN', 'No code is open. Choose "Let a device in" on the main screen, then type the code that it shows.')
      : refused(403, 'WRONG_CODE', 'That is not the code on the main screen. Look again and type all eight characters.');
  }

  #end(why: CodeEnd, at: number): void {
    const { code } = this.#open!;
    this.#open = null;
    this.#ended = [...this.#ended.slice(-9), { code, why, at }];
  }

  /** Seconds until this address may try again; 0 when it may now. */
  #wait(from: string, now: number): number {
    const times = (this.#wrong.get(from) ?? []).filter((at) => now - at < TRIES_TIME);
    return times.length < TRIES ? 0 : times[0]! + TRIES_TIME - now;
  }

  #countWrong(from: string, now: number): void {
    const times = (this.#wrong.get(from) ?? []).filter((at) => now - at < TRIES_TIME);
    this.#wrong.delete(from);
    this.#wrong.set(from, [...times, now]);
    // The map is in the order of the last wrong try: what is dropped is oldest.
    if (this.#wrong.size > MOST_ADDRESSES) this.#wrong.delete(this.#wrong.keys().next().value!);
  }
}

function refuseEnded(why: CodeEnd): Refusal {
  switch (why) {
    case 'used': return refused(403, 'CODE_USED', 'That code has let a device in already. Choose "Let a device in" on the main screen for a new one.');
    case 'guessed': return refused(403, 'CODE_CLOSED', 'That code was closed after too many wrong tries. Choose "Let a device in" on the main screen for a new one.');
    case 'expired': return refused(403, 'CODE_EXPIRED', 'That code has expired. Choose "Let a device in" on the main screen for a new one.');
    case 'closed': return refused(403, 'CODE_CLOSED', 'That code was closed on the main screen. Choose "Let a device in" there for a new one.');
  }
}

/** Letters that are easily mistaken count as the digit that they look like, as Crockford's base 32 has it. */
function normalCode(typed: string): string {
  return typed.toUpperCase().replace(/[\s\-–]/g, '').replace(/O/g, '0').replace(/[IL]/g, '1');
}

/** Takes the same time wherever the two differ. */
function isSame(a: string, b: string): boolean {
  const digest = (text: string) => createHash('sha256').update(text).digest();
  return timingSafeEqual(digest(a), digest(b));
}
