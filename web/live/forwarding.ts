/** The part of the websocket that is about meters of this page's own device: their bytes go out, questions for them come in. */
import type { MeterMoved, MeterWrite } from '../../server/live/protocol.ts';

export interface ForwardingListener {
  /** The service has a question for the meter. */
  onWrite(meter: number, bytes: Uint8Array): void;
  /** The service reads the meter in another way, under another number. */
  onMoved(meter: number, to: number, address: string): void;
}

let send: (bytes: Uint8Array<ArrayBuffer>) => boolean = () => false;
let listener: ForwardingListener | null = null;

/** Hands in the way to the service. */
export function useByteSender(sendBytes: typeof send): void {
  send = sendBytes;
}

/** @returns false when there is no contact: nothing is kept for later */
export function sendBytes(bytes: Uint8Array<ArrayBuffer>): boolean {
  return send(bytes);
}

export function followForwarding(follower: ForwardingListener): void {
  listener = follower;
}

export function forwardingSaid(message: MeterWrite | MeterMoved): void {
  if (message.type === 'meter-moved') listener?.onMoved(message.meter, message.to, message.address);
  else listener?.onWrite(message.meter, Uint8Array.from(atob(message.bytes), (character) => character.charCodeAt(0)));
}
