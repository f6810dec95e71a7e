/**
 * A serial port over the network whose baud rate and lines can be set from here: RFC 2217, the telnet option for
 * serial port control. Settings are sent in the order that its section 2 recommends; the far end answers
 * each with the value in use.
 */
import { trouble } from '../link-trouble.ts';
import type { LinkStatus } from '../meter.ts';
import type { LineSettings } from './serial.ts';
import type { SocketProtocol } from './tcp.ts';
import { escapeTelnet, optionCommand, subnegotiation, Telnet, type TelnetEvent, TelnetOption, TelnetReader } from './telnet.ts';

/** Commands from here; the far end answers with the same number plus 100. */
const Command = { baudRate: 1, dataSize: 2, parity: 3, stopSize: 4, control: 5 } as const;
const ANSWER = 100;
const PARITY = { none: 1, odd: 2, even: 3, mark: 4, space: 5 } as const;
const STOP_SIZE: Record<string, number> = { 1: 1, 2: 2, 1.5: 3 };
const FLOW = { none: 1, 'xon-xoff': 2, 'rts-cts': 3 } as const;
const Control = { dtrOn: 8, dtrOff: 9, rtsOn: 11, rtsOff: 12 } as const;

interface Setting {
  readonly name: string;
  readonly command: number;
  readonly value: readonly number[];
}

export class PortControl implements SocketProtocol {
  readonly #settings: LineSettings;
  readonly #reader = new TelnetReader();
  #send: (bytes: Uint8Array) => void = () => undefined;
  #state: 'negotiating' | 'ready' | 'refused' = 'negotiating';
  /** Sent, and to be confirmed yet. */
  #open: Setting[] = [];
  #differing: string[] = [];
  #speaksPortControl = false;
  #goesAhead = false;

  constructor(settings: LineSettings) {
    this.#settings = settings;
  }

  start(send: (bytes: Uint8Array) => void): void {
    this.#send = send;
    send(optionCommand(Telnet.WILL, TelnetOption.portControl));
    send(optionCommand(Telnet.WILL, TelnetOption.binary));
    send(optionCommand(Telnet.DO, TelnetOption.binary));
    send(optionCommand(Telnet.DO, TelnetOption.suppressGoAhead));
  }

  receive(bytes: Uint8Array): Uint8Array {
    return this.#reader.read(bytes, (event) => this.#onEvent(event));
  }

  wrap(bytes: Uint8Array): Uint8Array {
    return escapeTelnet(bytes);
  }

  state(): 'negotiating' | 'ready' | 'refused' {
    return this.#state;
  }

  trouble(): LinkStatus {
    if (this.#differing.length > 0) {
      return trouble('failed', 'PORT_SETTINGS', `The far end uses other values: ${this.#differing.join(', ')}. Give settings that it can do.`);
    }
    const advice = this.#speaksPortControl ? 'The far end does not confirm the settings.' : 'The far end does not speak RFC 2217: set its port up there, and write tcp: instead of rfc2217:.';
    return trouble('failed', 'PORT_SETTINGS', advice);
  }

  #onEvent(event: TelnetEvent): void {
    if (event.kind === 'option') this.#onOption(event.verb, event.option);
    else if (event.option === TelnetOption.portControl) this.#onAnswer(event.body);
  }

  #onOption(verb: number, option: number): void {
    if (option === TelnetOption.portControl) {
      if (verb === Telnet.DO && !this.#speaksPortControl) {
        this.#speaksPortControl = true;
        this.#sendSettings();
      } else if (verb === Telnet.DONT) {
        this.#state = 'refused';
      }
      return;
    }
    // Both ends may be binary and without go-ahead; anything else is declined, once asked for.
    const isWanted = option === TelnetOption.binary || option === TelnetOption.suppressGoAhead;
    if (verb === Telnet.WILL && !isWanted) this.#send(optionCommand(Telnet.DONT, option));
    if (verb === Telnet.DO && !isWanted) this.#send(optionCommand(Telnet.WONT, option));
    if (verb === Telnet.DO && option === TelnetOption.suppressGoAhead && !this.#goesAhead) {
      this.#goesAhead = true;
      this.#send(optionCommand(Telnet.WILL, option));
    }
  }

  #sendSettings(): void {
    const { baud, dataBits, parity, stopBits, flow, dtr, rts } = this.#settings;
    const settings: Setting[] = [
      { name: 'baud rate', command: Command.baudRate, value: [baud >>> 24, (baud >>> 16) & 255, (baud >>> 8) & 255, baud & 255] },
      { name: 'data bits', command: Command.dataSize, value: [dataBits] },
      { name: 'parity', command: Command.parity, value: [PARITY[parity]] },
      { name: 'stop bits', command: Command.stopSize, value: [STOP_SIZE[stopBits] as number] },
      { name: 'flow control', command: Command.control, value: [FLOW[flow]] },
    ];
    if (dtr !== null) settings.push({ name: 'DTR', command: Command.control, value: [dtr ? Control.dtrOn : Control.dtrOff] });
    if (rts !== null) settings.push({ name: 'RTS', command: Command.control, value: [rts ? Control.rtsOn : Control.rtsOff] });
    // Lines and flow control are a wish: a far end without them does not even answer, and the meter may not need them.
    this.#open = settings.filter((setting) => setting.command !== Command.control);
    for (const setting of settings) this.#send(subnegotiation(TelnetOption.portControl, [setting.command, ...setting.value]));
  }

  #onAnswer(body: Uint8Array): void {
    const command = (body[0] ?? 0) - ANSWER;
    const at = this.#open.findIndex((setting) => setting.command === command);
    if (at < 0) return;
    const [setting] = this.#open.splice(at, 1) as [Setting];
    const inUse = [...body.subarray(1)];
    if (inUse.join() !== setting.value.join()) this.#differing.push(setting.name);
    if (this.#open.length === 0) this.#state = this.#differing.length > 0 ? 'refused' : 'ready';
  }
}
