/**
 * The listener for other devices: HTTPS on the private addresses that this machine has now, with a certificate that names
 * exactly them and is made anew when they change.
 */
import type { RequestListener } from 'node:http';
import { createServer, type Server } from 'node:https';
import type { AddressInfo } from 'node:net';
import type { CertificateFolder } from './certificate-folder.ts';
import { hostsOf, hostText } from './foreign.ts';
import { isPrivateAddress, ownPrivateAddresses, type OwnAddress } from './private-networks.ts';
import { SharingError } from './sharing-error.ts';

/** How often the addresses of this machine are looked at, and with them the age of the certificate. */
const LOOK_EVERY_MS = 5_000;
/** Connections of all devices together. */
const MOST_CONNECTIONS = 256;

export interface SharedAddress {
  /** Without a slash at the end. */
  readonly url: string;
  readonly network: string;
}

export class SharedListener {
  /** Handed to whoever takes websockets. */
  readonly server: Server;
  readonly #certificates: CertificateFolder;
  /** The one address to serve; null for every private one. */
  readonly #address: string | null;
  #served: readonly OwnAddress[] = [];
  #hosts: ReadonlySet<string> = new Set();
  #port = 0;
  #timer: NodeJS.Timeout | null = null;

  /** @throws {SharingError} NOT_PRIVATE for an address that others than the own network may reach */
  constructor(certificates: CertificateFolder, address: string | null) {
    if (address !== null && !isPrivateAddress(address)) {
      throw new SharingError('NOT_PRIVATE',
        `${address} is not an address of a private network (10.x, 172.16.x to 172.31.x, 192.168.x, fd..:). Share on the one that this machine has in the workshop's network.`);
    }
    this.#certificates = certificates;
    this.#address = address;
    this.server = createServer({ minVersion: 'TLSv1.2', handshakeTimeout: 10_000 });
    this.server.maxConnections = MOST_CONNECTIONS;
    // Port scanners and browsers that don't trust the certificate yet: nothing that the user could mend here.
    this.server.on('tlsClientError', (_error, socket) => socket.destroy());
  }

  get addresses(): readonly SharedAddress[] {
    return this.#served.map(({ address, network }) => ({ url: `https://${hostText(address, this.#port)}`, network }));
  }

  /** Host values that are answered to. */
  get hosts(): ReadonlySet<string> {
    return this.#hosts;
  }

  /** @param port 0 for any free one @throws {SharingError} CANT_LISTEN */
  async listen(port: number, onRequest: RequestListener): Promise<void> {
    this.server.on('request', onRequest);
    await new Promise<void>((resolve, reject) => {
      this.server.once('error', (error: NodeJS.ErrnoException) => reject(cantListen(error, this.#address, port)));
      this.server.listen(port, this.#address ?? '0.0.0.0', resolve);
    });
    this.#port = (this.server.address() as AddressInfo).port;
    await this.look(new Date());
    this.#timer = setInterval(() => {
      // The certificate in use goes on until the next look; the terminal says what is wrong meanwhile.
      this.look(new Date()).catch((error: unknown) => console.error(error instanceof SharingError ? error.message : error));
    }, LOOK_EVERY_MS);
  }

  /** Takes the addresses that the machine has now, and a certificate that fits them. */
  async look(now: Date): Promise<void> {
    const served = this.#address === null ? ownPrivateAddresses() : [{ address: this.#address, network: '' }];
    if (served.length > 0) {
      const { certificate, key } = await this.#certificates.serverCertificate(served.map(({ address }) => address), now);
      this.server.setSecureContext({ cert: certificate, key, minVersion: 'TLSv1.2' });
    }
    this.#served = served;
    this.#hosts = hostsOf(served.map(({ address }) => address), this.#port);
  }

  async close(): Promise<void> {
    if (this.#timer !== null) clearInterval(this.#timer);
    if (!this.server.listening) return;
    const closed = new Promise<void>((resolve) => this.server.close(() => resolve()));
    this.server.closeAllConnections();
    await closed;
  }
}

function cantListen(error: NodeJS.ErrnoException, address: string | null, port: number): SharingError {
  const where = hostText(address ?? '0.0.0.0', port);
  switch (error.code) {
    case 'EADDRINUSE':
      return new SharingError('CANT_LISTEN', `Something already listens on ${where}, perhaps Loomtrace itself. Stop it, or choose another port: --share-at ${hostText(address ?? 'ADDRESS', port + 1)}`, { cause: error });
    case 'EADDRNOTAVAIL':
      return new SharingError('CANT_LISTEN', `This machine has no address ${address}. Leave the address out to share on every one that it has.`, { cause: error });
    default:
      return new SharingError('CANT_LISTEN', `Can't share on ${where}: ${error.message}`, { cause: error });
  }
}
