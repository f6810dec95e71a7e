/**
 * Certificates made on the spot: an authority of this installation's own, and the server's certificate that it signs for the
 * addresses at hand (X.509, RFC 5280). The authority binds itself to private addresses: devices that trust it are no worse
 * off on the internet, even if its key were stolen.
 */
import 'reflect-metadata';
import { createPrivateKey, KeyObject, randomBytes, webcrypto, X509Certificate } from 'node:crypto';
import { AsnConvert } from '@peculiar/asn1-schema';
import { GeneralName, GeneralSubtree, GeneralSubtrees, id_ce_nameConstraints, NameConstraints } from '@peculiar/asn1-x509';
import * as x509 from '@peculiar/x509';
import { PRIVATE_RANGES } from './private-networks.ts';

export interface KeyedCertificate {
  /** PEM. */
  readonly certificate: string;
  /** PEM, PKCS #8. */
  readonly key: string;
}

/** NIST P-256 with SHA-256: what every browser and phone of the last ten years verifies. */
const CURVE = { name: 'ECDSA', namedCurve: 'P-256' };
const SIGNATURE = { name: 'ECDSA', hash: 'SHA-256' };
const DAY_MS = 86_400_000;
const AUTHORITY_DAYS = 3650;
/** Systems refuse server certificates that live longer than 825 days, some those over 398. */
const SERVER_DAYS = 180;
/** Renewed when less than this is left. */
const SPARE_DAYS = 30;
/** Clocks of phones that run behind. */
const EARLY_DAYS = 1;
const TLS_SERVER = '1.3.6.1.5.5.7.3.1';

export async function makeAuthority(now: Date): Promise<KeyedCertificate> {
  const keys = await makeKeys();
  const certificate = await x509.X509CertificateGenerator.createSelfSigned({
    ...validity(now, AUTHORITY_DAYS),
    // The random part tells the authorities of two machines apart in a phone's list.
    name: `CN=Loomtrace workshop authority ${randomBytes(3).toString('hex')}`,
    keys,
    signingAlgorithm: SIGNATURE,
    extensions: [
      new x509.BasicConstraintsExtension(true, 0, true),
      new x509.KeyUsagesExtension(x509.KeyUsageFlags.keyCertSign | x509.KeyUsageFlags.cRLSign, true),
      privateAddressesOnly(),
      await x509.SubjectKeyIdentifierExtension.create(keys.publicKey),
    ],
  });
  return { certificate: certificate.toString('pem'), key: await keyText(keys.privateKey) };
}

/** @param addresses IP addresses, at least one; the certificate holds for exactly these */
export async function makeServerCertificate(authority: KeyedCertificate, addresses: readonly string[], now: Date): Promise<KeyedCertificate> {
  if (addresses.length === 0) throw new RangeError('a server certificate needs an address');
  const keys = await makeKeys();
  const issuer = new x509.X509Certificate(authority.certificate);
  const certificate = await x509.X509CertificateGenerator.create({
    ...validity(now, SERVER_DAYS),
    subject: 'CN=Loomtrace service of this workshop',
    issuer: issuer.subject,
    publicKey: keys.publicKey,
    signingKey: await importKey(authority.key),
    signingAlgorithm: SIGNATURE,
    extensions: [
      new x509.BasicConstraintsExtension(false, undefined, true),
      new x509.KeyUsagesExtension(x509.KeyUsageFlags.digitalSignature, true),
      new x509.ExtendedKeyUsageExtension([TLS_SERVER]),
      new x509.SubjectAlternativeNameExtension(addresses.map((value) => ({ type: 'ip' as const, value }))),
      await x509.SubjectKeyIdentifierExtension.create(keys.publicKey),
      await x509.AuthorityKeyIdentifierExtension.create(issuer),
    ],
  });
  return { certificate: certificate.toString('pem'), key: await keyText(keys.privateKey) };
}

/**
 * Why a server certificate can't be used (any longer): signed by another authority, not valid yet, expired or soon to be, or
 * an address that it does not name. Null when it can.
 */
export function serverCertificateTrouble(
  certificate: X509Certificate, authority: X509Certificate, addresses: readonly string[], now: Date,
): 'foreign' | 'early' | 'expiring' | 'address-missing' | null {
  if (!certificate.checkIssued(authority) || !certificate.verify(authority.publicKey)) return 'foreign';
  if (now < new Date(certificate.validFrom)) return 'early';
  if (daysLeft(certificate, now) < SPARE_DAYS) return 'expiring';
  return addresses.every((address) => certificate.checkIP(address) !== undefined) ? null : 'address-missing';
}

/** Full days until a certificate expires; below 0 when it has. */
export function daysLeft(certificate: X509Certificate, now: Date): number {
  return Math.floor((new Date(certificate.validTo).getTime() - now.getTime()) / DAY_MS);
}

function validity(now: Date, days: number): { serialNumber: string; notBefore: Date; notAfter: Date } {
  // RFC 5280, 4.1.2.2: positive, at most 20 octets. A leading 01 keeps the sign bit clear.
  const serialNumber = `01${randomBytes(15).toString('hex')}`;
  return { serialNumber, notBefore: new Date(now.getTime() - EARLY_DAYS * DAY_MS), notAfter: new Date(now.getTime() + days * DAY_MS) };
}

/** Name constraints (RFC 5280, 4.2.1.10): IP addresses of private ranges, and no DNS name at all. */
function privateAddressesOnly(): x509.Extension {
  const subtree = (base: Partial<GeneralName>) => new GeneralSubtree({ base: new GeneralName(base) });
  const constraints = new NameConstraints({
    permittedSubtrees: new GeneralSubtrees(PRIVATE_RANGES.map((iPAddress) => subtree({ iPAddress }))),
    // The empty name stands for every name.
    excludedSubtrees: new GeneralSubtrees([subtree({ dNSName: '' })]),
  });
  return new x509.Extension(id_ce_nameConstraints, true, AsnConvert.serialize(constraints));
}

function makeKeys(): Promise<webcrypto.CryptoKeyPair> {
  return webcrypto.subtle.generateKey(CURVE, true, ['sign', 'verify']);
}

async function keyText(key: webcrypto.CryptoKey): Promise<string> {
  return KeyObject.from(key).export({ type: 'pkcs8', format: 'pem' }).toString();
}

async function importKey(pem: string): Promise<webcrypto.CryptoKey> {
  const der = createPrivateKey(pem).export({ type: 'pkcs8', format: 'der' });
  return webcrypto.subtle.importKey('pkcs8', der, CURVE, false, ['sign']);
}
