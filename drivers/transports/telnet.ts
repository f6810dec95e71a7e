/**
 * The telnet bytes around a remote serial port (RFC 854): commands and sub-negotiations begin with IAC (255), a
 * data byte 255 is sent twice. A state machine, so that it does not matter where the network cuts. Pure.
 */

export const Telnet = { SE: 240, SB: 250, WILL: 251, WONT: 252, DO: 253, DONT: 254, IAC: 255 } as const;

/** Options of telnet that a byte-clean port needs: RFC 856 (binary), RFC 858 (suppress go-ahead), RFC 2217 (port control). */
export const TelnetOption = { binary: 0, suppressGoAhead: 3, portControl: 44 } as const;

export type TelnetEvent =
  | { readonly kind: 'option'; readonly verb: number; readonly option: number }
  | { readonly kind: 'subnegotiation'; readonly option: number; readonly body: Uint8Array };

/** Longest sub-negotiation kept, bytes; a longer one is cut. */
const LONGEST_BODY = 256;

export class TelnetReader {
  #state: 'data' | 'iac' | 'verb' | 'option' | 'body' | 'body-iac' = 'data';
  #verb = 0;
  #option = 0;
  #body: number[] = [];

  /** @param onEvent  called for what is not data @returns the data among these bytes */
  read(bytes: Uint8Array, onEvent: (event: TelnetEvent) => void): Uint8Array {
    const data = new Uint8Array(bytes.length);
    let length = 0;
    for (const byte of bytes) {
      switch (this.#state) {
        case 'data':
          if (byte === Telnet.IAC) this.#state = 'iac';
          else data[length++] = byte;
          break;
        case 'iac':
          if (byte === Telnet.IAC) {
            data[length++] = byte;
            this.#state = 'data';
          } else if (byte >= Telnet.WILL && byte <= Telnet.DONT) {
            this.#verb = byte;
            this.#state = 'verb';
          } else {
            this.#state = byte === Telnet.SB ? 'option' : 'data';
          }
          break;
        case 'verb':
          onEvent({ kind: 'option', verb: this.#verb, option: byte });
          this.#state = 'data';
          break;
        case 'option':
          this.#option = byte;
          this.#body = [];
          this.#state = 'body';
          break;
        case 'body':
          if (byte === Telnet.IAC) this.#state = 'body-iac';
          else if (this.#body.length < LONGEST_BODY) this.#body.push(byte);
          break;
        case 'body-iac':
          if (byte === Telnet.IAC && this.#body.length < LONGEST_BODY) this.#body.push(byte);
          if (byte === Telnet.SE) onEvent({ kind: 'subnegotiation', option: this.#option, body: Uint8Array.from(this.#body) });
          this.#state = byte === Telnet.SE ? 'data' : 'body';
          break;
      }
    }
    return data.subarray(0, length);
  }
}

/** @returns data with every 255 doubled */
export function escapeTelnet(bytes: Uint8Array): Uint8Array {
  if (!bytes.includes(Telnet.IAC)) return bytes;
  return Uint8Array.from([...bytes].flatMap((byte) => (byte === Telnet.IAC ? [byte, byte] : [byte])));
}

export function optionCommand(verb: number, option: number): Uint8Array {
  return Uint8Array.of(Telnet.IAC, verb, option);
}

export function subnegotiation(option: number, body: readonly number[]): Uint8Array {
  return Uint8Array.of(Telnet.IAC, Telnet.SB, option, ...escapeTelnet(Uint8Array.from(body)), Telnet.IAC, Telnet.SE);
}
