/**
 * What dashboards ask for about meters that hang on the dashboard's own device, that nobody knows yet, or that are being taught. Types
 * only, shared with the browser; checked by meter-requests.ts.
 */

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

export type MeterRequest = CarryRequest;
