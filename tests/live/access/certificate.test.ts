/** Certificates, checked by two readers of X.509 other than the one that makes them: OpenSSL's command line and Node's. */
import { spawnSync } from 'node:child_process';
import { X509Certificate } from 'node:crypto';
import { chmodSync, mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { CertificateFolder } from '../../../server/live/access/certificate-folder.ts';
import { makeAuthority, makeServerCertificate, serverCertificateTrouble, type KeyedCertificate } from '../../../server/live/access/certificate.ts';

const now = new Date();
const inDays = (days: number) => new Date(now.getTime() + days * 86_400_000);
const read = ({ certificate }: KeyedCertificate) => new X509Certificate(certificate);

let parent: string;
let folder: string;
beforeEach(() => {
  parent = mkdtempSync(join(tmpdir(), 'loomtrace-test-'));
  folder = join(parent, 'settings');
});
afterEach(() => rmSync(parent, { recursive: true, force: true }));

/** 'OK' or the reason that OpenSSL gives against the chain, judged strictly by RFC 5280 as that of a TLS server at the address. */
function opensslVerdict(authority: KeyedCertificate, server: KeyedCertificate, address: string, at = now): string {
  const caFile = join(parent, 'ca.pem');
  const file = join(parent, 'server.pem');
  writeFileSync(caFile, authority.certificate);
  writeFileSync(file, server.certificate);
  const { stdout, stderr } = spawnSync('openssl', [
    'verify', '-x509_strict', '-purpose', 'sslserver', '-attime', String(Math.floor(at.getTime() / 1000)), '-verify_ip', address, '-CAfile', caFile, file,
  ], { encoding: 'utf8' });
  return stdout.includes(': OK') ? 'OK' : (/lookup: (.*)/.exec(stdout + stderr)?.[1] ?? stderr);
}

describe('makeServerCertificate', () => {
  it('is accepted by OpenSSL for every address that it was made for, IPv4 and IPv6, and for no other', async () => {
    const authority = await makeAuthority(now);
    const addresses = ['192.168.1.5', '10.0.0.7', '127.0.0.2', 'fd00::17'];
    const server = await makeServerCertificate(authority, addresses, now);
    for (const address of addresses) expect(opensslVerdict(authority, server, address), address).toBe('OK');
    expect(opensslVerdict(authority, server, '192.168.1.6')).toBe('IP address mismatch');
    expect(read(server).subjectAltName).toBe('IP Address:192.168.1.5, IP Address:10.0.0.7, IP Address:127.0.0.2, IP Address:FD00:0:0:0:0:0:0:17');
  });

  it('is accepted on the day before and until it expires, not after', async () => {
    const authority = await makeAuthority(now);
    const server = await makeServerCertificate(authority, ['192.168.1.5'], now);
    expect(opensslVerdict(authority, server, '192.168.1.5', inDays(-0.9))).toBe('OK');
    expect(opensslVerdict(authority, server, '192.168.1.5', inDays(179))).toBe('OK');
    expect(opensslVerdict(authority, server, '192.168.1.5', inDays(181))).toBe('certificate has expired');
    // CA/Browser Forum Baseline Requirements 6.3.2 as of 2020-09: systems accept at most 398 days.
    expect((new Date(read(server).validTo).getTime() - new Date(read(server).validFrom).getTime()) / 86_400_000).toBeLessThan(398);
  });

  it('binds the authority to private addresses: OpenSSL refuses a public one that it signed', async () => {
    const authority = await makeAuthority(now);
    for (const address of ['203.0.113.5', '172.32.0.1', '2001:db8::1']) {
      const server = await makeServerCertificate(authority, [address], now);
      expect(opensslVerdict(authority, server, address), address).toBe('permitted subtree violation');
    }
    for (const address of ['172.31.255.254', '100.64.0.1', '169.254.9.9', 'fe80::1']) {
      expect(opensslVerdict(authority, await makeServerCertificate(authority, [address], now), address), address).toBe('OK');
    }
  });

  it('binds the authority to addresses: OpenSSL refuses any name that its key signs, by whatever tool', async () => {
    const authority = await makeAuthority(now);
    writeFileSync(join(parent, 'ca.pem'), authority.certificate);
    writeFileSync(join(parent, 'ca.key'), authority.key);
    const run = (args: string[]) => expect(spawnSync('openssl', args, { cwd: parent, encoding: 'utf8' }).status).toBe(0);
    writeFileSync(join(parent, 'ext'), 'subjectAltName=DNS:bank.example\nbasicConstraints=CA:FALSE\nauthorityKeyIdentifier=keyid\nsubjectKeyIdentifier=hash\n');
    run(['req', '-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:P-256', '-nodes', '-keyout', 'forged.key', '-out', 'forged.csr', '-subj', '/CN=forged']);
    run(['x509', '-req', '-in', 'forged.csr', '-CA', 'ca.pem', '-CAkey', 'ca.key', '-days', '30', '-extfile', 'ext', '-out', 'forged.pem']);
    const { stdout, stderr } = spawnSync('openssl', ['verify', '-x509_strict', '-purpose', 'sslserver', '-verify_hostname', 'bank.example', '-CAfile', 'ca.pem', 'forged.pem'], { cwd: parent, encoding: 'utf8' });
    expect(stdout + stderr).toMatch(/excluded subtree violation/);
  });

  it('can’t sign further certificates', async () => {
    const server = await makeServerCertificate(await makeAuthority(now), ['192.168.1.5'], now);
    expect(read(server).ca).toBe(false);
    expect(read(server).keyUsage).toEqual(['1.3.6.1.5.5.7.3.1']);
  });

  it('needs an address', async () => {
    await expect(makeServerCertificate(await makeAuthority(now), [], now)).rejects.toThrow(RangeError);
  });
});

describe('serverCertificateTrouble', () => {
  it('names why a certificate can’t be used', async () => {
    const authority = await makeAuthority(now);
    const server = read(await makeServerCertificate(authority, ['192.168.1.5'], now));
    const trouble = (addresses: string[], at: Date, by = authority) => serverCertificateTrouble(server, read(by), addresses, at);
    expect(trouble(['192.168.1.5'], now)).toBeNull();
    expect(trouble(['192.168.1.5', '192.168.1.6'], now)).toBe('address-missing');
    expect(trouble(['192.168.1.5'], inDays(-2))).toBe('early');
    expect(trouble(['192.168.1.5'], inDays(149))).toBeNull();
    expect(trouble(['192.168.1.5'], inDays(151))).toBe('expiring');
    expect(trouble(['192.168.1.5'], inDays(500))).toBe('expiring');
    expect(trouble(['192.168.1.5'], now, await makeAuthority(now))).toBe('foreign');
  });
});

describe('CertificateFolder', () => {
  it('keeps its authority, which devices trust, from start to start', async () => {
    const first = await CertificateFolder.open(folder, now);
    const second = await CertificateFolder.open(folder, inDays(1000));
    expect(second.authority.fingerprint256).toBe(first.authority.fingerprint256);
  });

  it('closes its files to everyone else, also those that were open to others', async () => {
    await (await CertificateFolder.open(folder, now)).serverCertificate(['192.168.1.5'], now);
    chmodSync(join(folder, 'authority.key'), 0o644);
    await CertificateFolder.open(folder, now);
    for (const name of ['authority.key', 'authority.crt', 'server.key', 'server.crt']) expect(statSync(join(folder, name)).mode & 0o777, name).toBe(0o600);
    expect(statSync(folder).mode & 0o777).toBe(0o700);
  });

  it('keeps the server certificate while it serves, and renews it for other addresses or when it gets old', async () => {
    const certificates = await CertificateFolder.open(folder, now);
    const first = await certificates.serverCertificate(['192.168.1.5'], now);
    expect(await certificates.serverCertificate(['192.168.1.5'], inDays(100))).toEqual(first);
    const moved = await certificates.serverCertificate(['10.0.0.9'], inDays(100));
    expect(read(moved).checkIP('10.0.0.9')).toBe('10.0.0.9');
    expect(read(moved).checkIP('192.168.1.5')).toBeUndefined();
    const renewed = await certificates.serverCertificate(['10.0.0.9'], inDays(260));
    expect(renewed).not.toEqual(moved);
    expect(certificates.authority.verify(certificates.authority.publicKey)).toBe(true);
    expect(read(renewed).verify(certificates.authority.publicKey)).toBe(true);
  });

  it('makes a new authority when the old one has less than a year left', async () => {
    const first = await CertificateFolder.open(folder, now);
    const next = await CertificateFolder.open(folder, inDays(3300));
    expect(next.authority.fingerprint256).not.toBe(first.authority.fingerprint256);
  });

  it.each([
    ['a key of another certificate', 'authority.key', async () => (await makeAuthority(now)).key],
    ['no certificate', 'authority.crt', () => 'nonsense'],
    ['a certificate that is no authority’s', 'authority.crt', () => readFileSync(join(folder, 'server.crt'), 'utf8')],
  ])('says what to do about %s', async (_what, name, text) => {
    await (await CertificateFolder.open(folder, now)).serverCertificate(['192.168.1.5'], now);
    writeFileSync(join(folder, name), await text());
    await expect(CertificateFolder.open(folder, now)).rejects.toMatchObject({ code: 'SETTINGS_DAMAGED', message: expect.stringContaining('Delete') as string });
  });

  it('replaces a damaged server certificate by itself: no device has to do anything', async () => {
    const certificates = await CertificateFolder.open(folder, now);
    await certificates.serverCertificate(['192.168.1.5'], now);
    writeFileSync(join(folder, 'server.key'), 'nonsense');
    const made = await certificates.serverCertificate(['192.168.1.5'], now);
    expect(serverCertificateTrouble(read(made), certificates.authority, ['192.168.1.5'], now)).toBeNull();
  });

  it('says so when its folder can’t be used', async () => {
    writeFileSync(folder, 'a file in the place of the folder');
    await expect(CertificateFolder.open(folder, now)).rejects.toMatchObject({ code: 'SETTINGS_UNUSABLE' });
  });
});
