/** The certificates on disk. The authority's key never leaves its folder: only its certificate is given out. */
import { createPrivateKey, X509Certificate } from 'node:crypto';
import { daysLeft, makeAuthority, makeServerCertificate, serverCertificateTrouble, type KeyedCertificate } from './certificate.ts';
import { readPrivateFile, writePrivateFile } from './private-file.ts';
import { SharingError } from './sharing-error.ts';

const AUTHORITY = 'authority.crt';
const AUTHORITY_KEY = 'authority.key';
const SERVER = 'server.crt';
const SERVER_KEY = 'server.key';
/** An authority with less left than this is made anew, and has to be trusted anew. */
const AUTHORITY_SPARE_DAYS = 365;

export class CertificateFolder {
  readonly #folder: string;
  readonly #authority: KeyedCertificate;

  private constructor(folder: string, authority: KeyedCertificate) {
    this.#folder = folder;
    this.#authority = authority;
  }

  /** Reads the authority of this folder, or makes one. @throws {SharingError} when its files don't fit each other */
  static async open(folder: string, now: Date): Promise<CertificateFolder> {
    const stored = readPair(folder, AUTHORITY, AUTHORITY_KEY);
    if (stored !== null) {
      const certificate = parsed(stored);
      if (certificate === null || !certificate.ca) {
        throw new SharingError('SETTINGS_DAMAGED',
          `The certificate authority in ${folder} is damaged. Delete ${AUTHORITY} and ${AUTHORITY_KEY} there and start again: a new one is made, which devices have to trust anew.`);
      }
      if (daysLeft(certificate, now) >= AUTHORITY_SPARE_DAYS) return new CertificateFolder(folder, stored);
    }
    const authority = await makeAuthority(now);
    writePrivateFile(folder, AUTHORITY_KEY, authority.key);
    writePrivateFile(folder, AUTHORITY, authority.certificate);
    return new CertificateFolder(folder, authority);
  }

  /** The authority's certificate, for devices to trust. */
  get authority(): X509Certificate {
    return new X509Certificate(this.#authority.certificate);
  }

  /** The stored server certificate while it serves for these addresses, else a new one. */
  async serverCertificate(addresses: readonly string[], now: Date): Promise<KeyedCertificate> {
    const stored = readPair(this.#folder, SERVER, SERVER_KEY);
    const certificate = stored === null ? null : parsed(stored);
    if (stored !== null && certificate !== null && serverCertificateTrouble(certificate, this.authority, addresses, now) === null) return stored;
    const made = await makeServerCertificate(this.#authority, addresses, now);
    writePrivateFile(this.#folder, SERVER_KEY, made.key);
    writePrivateFile(this.#folder, SERVER, made.certificate);
    return made;
  }
}

function readPair(folder: string, certificateName: string, keyName: string): KeyedCertificate | null {
  const certificate = readPrivateFile(folder, certificateName);
  const key = readPrivateFile(folder, keyName);
  return certificate === null || key === null ? null : { certificate, key };
}

/** @returns null when certificate and key can't be read or don't belong together */
function parsed({ certificate, key }: KeyedCertificate): X509Certificate | null {
  try {
    const read = new X509Certificate(certificate);
    return read.checkPrivateKey(createPrivateKey(key)) ? read : null;
  } catch {
    return null;
  }
}
