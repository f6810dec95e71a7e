/** Sharing can't start or can't save; the message says what to do. */
export type SharingErrorCode =
  /** Asked to serve an address that the whole internet may reach. */
  | 'NOT_PRIVATE'
  /** Files of the settings folder don't belong together or can't be understood. */
  | 'SETTINGS_DAMAGED'
  /** The settings folder can't be read or written. */
  | 'SETTINGS_UNUSABLE'
  /** The port or the address can't be listened on. */
  | 'CANT_LISTEN'
  /** As many devices are paired as are kept. */
  | 'TOO_MANY_DEVICES';

export class SharingError extends Error {
  readonly code: SharingErrorCode;
  constructor(code: SharingErrorCode, message: string, options?: ErrorOptions) {
    super(message, options);
    this.code = code;
  }
}
