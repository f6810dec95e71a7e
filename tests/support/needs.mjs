// What the tests need beyond npm: a browser, a pseudo-terminal relay, a circuit simulator.
// Installs them where this is a Debian system and the user is root; otherwise names them and stops.
import { execFileSync, spawnSync } from 'node:child_process';
import { existsSync } from 'node:fs';

const needs = [
  { file: '/usr/bin/chromium', package: 'chromium', why: 'the browser tests' },
  { file: '/usr/bin/socat', package: 'socat', why: 'the serial port tests (a pty pair)' },
  { file: '/usr/sbin/ser2net', package: 'ser2net', why: 'the tests of serial ports over the network' },
  { file: '/usr/bin/ngspice', package: 'ngspice', why: 'the tests of the circuit model against a circuit simulator' },
  { file: '/usr/bin/pdftotext', package: 'poppler-utils', why: 'the tests that read the printed report' },
  { file: '/usr/bin/openssl', package: 'openssl', why: 'the tests that check the certificates of a shared service' },
  { file: '/usr/bin/faketime', package: 'faketime', why: 'the test that sets the clock back' },
  { file: '/usr/bin/sqlite3', package: 'sqlite3', why: 'the tests that read a recording with another reader' },
];
const missing = needs.filter((need) => !existsSync(need.file));
if (missing.length > 0) {
  const names = missing.map((need) => need.package);
  const isRoot = process.getuid?.() === 0;
  if (isRoot && spawnSync('apt-get', ['--version']).status === 0) {
    console.log(`Installing what the tests need: ${names.join(', ')}`);
    execFileSync('apt-get', ['update', '-qq'], { stdio: 'inherit' });
    execFileSync('apt-get', ['install', '-y', '-qq', '--no-install-recommends', ...names], {
      stdio: ['ignore', 'ignore', 'inherit'],
      env: { ...process.env, DEBIAN_FRONTEND: 'noninteractive' },
    });
  } else {
    for (const need of missing) console.error(`Missing ${need.file} (package ${need.package}), needed for ${need.why}.`);
    console.error(`Install with:  sudo apt-get install ${names.join(' ')}`);
    process.exit(1);
  }
}
