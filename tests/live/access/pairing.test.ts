import { describe, expect, it } from 'vitest';
import { CODE_LIFE, PairingDesk } from '../../../server/live/access/pairing.ts';

const codeOf = (desk: PairingDesk, now = 0) => desk.open('control', now).code;
const answer = (outcome: ReturnType<PairingDesk['try']>) => (outcome.kind === 'paired' ? outcome.role : outcome.code);

/** A code that surely is not the open one. */
const other = (code: string) => (code.startsWith('0') ? code.replace(/^./, '1') : code.replace(/^./, '0'));

describe('PairingDesk', () => {
  it('lets in whoever types the open code, in the role that it was opened for', () => {
    const desk = new PairingDesk();
    expect(answer(desk.try(desk.open('watch', 0).code, 'a', 1))).toBe('watch');
    expect(answer(desk.try(desk.open('control', 2).code, 'a', 3))).toBe('control');
  });

  it('shows codes of eight characters that are not mistaken for each other, each a new one', () => {
    const desk = new PairingDesk();
    const codes = Array.from({ length: 200 }, () => codeOf(desk));
    // Crockford's base 32 (crockford.com/base32.html): no I, L, O, U.
    for (const code of codes) expect(code).toMatch(/^[0-9A-HJKMNP-TV-Z]{4}-[0-9A-HJKMNP-TV-Z]{4}$/);
    expect(new Set(codes).size).toBe(codes.length);
  });

  it('takes a code in lower case, without its dash, with spaces, and with O for 0 and I or L for 1', () => {
    const typings = [
      (code: string) => code.toLowerCase(), (code: string) => code.replace('-', ''), (code: string) => ` ${code.replace('-', ' ')} `,
      (code: string) => code.replaceAll('0', 'o').replaceAll('1', 'l'), (code: string) => code.replaceAll('0', 'O').replaceAll('1', 'I'),
    ];
    for (const typing of typings) {
      const desk = new PairingDesk();
      let code = codeOf(desk);
      // Only a code with both digits shows that they may be typed as letters.
      while (!(code.includes('0') && code.includes('1'))) code = codeOf(desk);
      expect(answer(desk.try(typing(code), 'a', 1))).toBe('control');
    }
  });

  it('is good for one device', () => {
    const desk = new PairingDesk();
    const code = codeOf(desk);
    expect(answer(desk.try(code, 'a', 1))).toBe('control');
    expect(answer(desk.try(code, 'b', 2))).toBe('CODE_USED');
    expect(desk.current(2)).toBeNull();
  });

  it('lives five minutes, and says so afterwards', () => {
    const early = new PairingDesk();
    expect(answer(early.try(codeOf(early), 'a', CODE_LIFE - 0.001))).toBe('control');
    const late = new PairingDesk();
    expect(answer(late.try(codeOf(late), 'a', CODE_LIFE))).toBe('CODE_EXPIRED');
    expect(late.lastEnd(CODE_LIFE)).toBe('expired');
  });

  it('is no longer good once another is opened or it is closed', () => {
    const desk = new PairingDesk();
    const first = codeOf(desk);
    const second = codeOf(desk, 1);
    expect(answer(desk.try(first, 'a', 2))).toBe('CODE_CLOSED');
    desk.close(3);
    expect(answer(desk.try(second, 'a', 4))).toBe('CODE_CLOSED');
  });

  it('tells a wrong code from none being open', () => {
    const desk = new PairingDesk();
    expect(answer(desk.try('0000-0000', 'a', 0))).toBe('NO_CODE_OPEN');
    expect(answer(desk.try(other(codeOf(desk)), 'a', 1))).toBe('WRONG_CODE');
    expect(answer(desk.try('', 'a', 2))).toBe('WRONG_CODE');
  });

  it('makes an address wait after five wrong codes, even with the right one, and no other address', () => {
    const desk = new PairingDesk();
    const code = codeOf(desk);
    for (let i = 0; i < 5; i++) expect(answer(desk.try(other(code), 'a', i))).toBe('WRONG_CODE');
    expect(answer(desk.try(code, 'a', 5))).toBe('TOO_MANY_TRIES');
    expect(answer(desk.try(code, 'a', 59))).toBe('TOO_MANY_TRIES');
    expect(answer(desk.try(code, 'b', 59))).toBe('control');
  });

  it('lets the address try again a minute after its first wrong code', () => {
    const desk = new PairingDesk();
    const code = codeOf(desk);
    for (let i = 0; i < 5; i++) desk.try(other(code), 'a', i);
    expect(answer(desk.try(code, 'a', 60))).toBe('control');
  });

  it('closes the code after twenty wrong ones from anywhere', () => {
    const desk = new PairingDesk();
    const code = codeOf(desk);
    for (let i = 0; i < 20; i++) desk.try(other(code), `device ${i}`, 1);
    expect(answer(desk.try(code, 'honest', 2))).toBe('CODE_CLOSED');
    expect(desk.lastEnd(2)).toBe('guessed');
  });

  it('says with every refusal what to do', () => {
    const desk = new PairingDesk();
    const code = codeOf(desk);
    const refusals = [desk.try(other(code), 'a', 0), desk.try(code, 'a', 301), desk.try('', 'b', 302)];
    for (let i = 0; i < 6; i++) refusals.push(desk.try('1', 'c', 303));
    for (const refusal of refusals) {
      expect(refusal.kind === 'refused' && refusal.message).toMatch(/main screen/);
      expect(refusal.kind === 'refused' && refusal.status).toBeGreaterThanOrEqual(400);
    }
  });

  it('keeps no more addresses than a thousand', () => {
    const desk = new PairingDesk();
    for (let i = 0; i < 5; i++) desk.try('1', 'first', 0);
    for (let i = 0; i < 1000; i++) desk.try('1', `later ${i}`, 1);
    // The oldest is forgotten, and may try again.
    expect(answer(desk.try('1', 'first', 2))).toBe('NO_CODE_OPEN');
    expect(answer(desk.try('1', 'later 999', 2))).toBe('NO_CODE_OPEN');
  });
});
