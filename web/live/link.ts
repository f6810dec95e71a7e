/** A websocket that is opened again by itself, and that notices when the other end has gone silent. */

export interface LinkListener {
  onOpen(): void;
  onText(text: string): void;
  onBytes(bytes: ArrayBuffer): void;
  /** Contact is lost; the link goes on trying. */
  onLost(): void;
}

/** The service speaks every 2 s: after this long without a word it is not there, whatever the socket says. */
const SILENCE_MS = 5_000;
const FIRST_RETRY_MS = 250;
const LONGEST_RETRY_MS = 3_000;

export class Link {
  readonly #url: string;
  readonly #listener: LinkListener;
  #socket: WebSocket | null = null;
  #retryMs = FIRST_RETRY_MS;
  #silence = 0;

  constructor(url: string, listener: LinkListener) {
    this.#url = url;
    this.#listener = listener;
    this.#open();
  }

  /** @returns false when there is no contact: nothing is kept for later */
  send(data: string | Uint8Array<ArrayBuffer>): boolean {
    if (this.#socket?.readyState !== WebSocket.OPEN) return false;
    this.#socket.send(data);
    return true;
  }

  #open(): void {
    const socket = new WebSocket(this.#url);
    this.#socket = socket;
    socket.binaryType = 'arraybuffer';
    this.#watch(socket);
    socket.onopen = () => {
      this.#retryMs = FIRST_RETRY_MS;
      this.#listener.onOpen();
    };
    socket.onmessage = (event: MessageEvent<string | ArrayBuffer>) => {
      this.#watch(socket);
      if (typeof event.data === 'string') this.#listener.onText(event.data);
      else this.#listener.onBytes(event.data);
    };
    // An error is always followed by a close.
    socket.onclose = () => this.#lose(socket);
  }

  #watch(socket: WebSocket): void {
    clearTimeout(this.#silence);
    this.#silence = window.setTimeout(() => {
      socket.close();
      this.#lose(socket);
    }, SILENCE_MS);
  }

  #lose(socket: WebSocket): void {
    // A socket that went silent closes long after it was given up.
    if (this.#socket !== socket) return;
    this.#socket = null;
    socket.onmessage = socket.onopen = socket.onclose = null;
    clearTimeout(this.#silence);
    this.#listener.onLost();
    setTimeout(() => this.#open(), this.#retryMs);
    this.#retryMs = Math.min(2 * this.#retryMs, LONGEST_RETRY_MS);
  }
}
